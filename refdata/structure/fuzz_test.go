package structure_test

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// FuzzOperator: what is accepted is written so that it is read back; what is refused says so.
func FuzzOperator(f *testing.F) {
	for _, seed := range []string{"x,y,z", "-y,x-y,z+1/3", "1/2+x, .25-y ,Z", "2*x-y,x,z", "x+0.3333,y,z", "x,y", "x,y,z+1/0", ",,", "x+1/1e9,y,z"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		op, err := structure.ParseOperator(text)
		if err != nil {
			require.ErrorIs(t, err, structure.ErrOperator)
			return
		}
		again, err := structure.ParseOperator(op.String())
		require.NoError(t, err, op.String())
		require.Equal(t, op.R, again.R)
		for i := range op.T {
			d := op.T[i] - again.T[i]
			require.Less(t, math.Abs(d-math.Round(d)), 1e-9, op.String())
		}
	})
}

// FuzzHall: a symbol gives a group, the identity among it, or an error that says what it is.
func FuzzHall(f *testing.F) {
	for _, row := range settingRows(f) {
		f.Add(row[3])
	}
	for _, seed := range []string{"P 2 (x,y,-x+z)", "P 31 2 (0 0 4)", "-P_2ac_2n", "H 3", "P 6 4 3 2", "- P 4", "P 1a 1b 1c 1u 1v 1w"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, symbol string) {
		ops, err := structure.HallOperators(symbol)
		if err != nil {
			if !isOneOf(err, structure.ErrHall, structure.ErrGroup, structure.ErrOperator) {
				t.Fatal(err)
			}
			return
		}
		require.Equal(t, "x,y,z", ops[0].String())
		require.LessOrEqual(t, len(ops), 384)
	})
}

func isOneOf(err error, targets ...error) bool {
	for _, target := range targets {
		if errors.Is(err, target) {
			return true
		}
	}
	return false
}

// FuzzCIF: a file gives structures whose phase is finite, or a SyntaxError with a remedy.
func FuzzCIF(f *testing.F) {
	f.Add([]byte(good))
	f.Add([]byte(file(magnetite, symbol("F d -3 m"), magnetiteAtoms)))
	f.Add([]byte(file(zincite, symbol("P 63 m c"), zinciteAtoms)))
	files, _ := filepath.Glob("../../../shared/oracle/cif_torture/*.cif")
	for _, name := range files {
		raw, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(raw)
	}
	r, err := xrd.ParseRadiation("Cr")
	require.NoError(f, err)
	b := beam(f, "Cr")
	b.Radiation = r
	f.Fuzz(func(t *testing.T, raw []byte) {
		list, err := structure.Read(bytes.NewReader(raw), "fuzz.cif")
		if err != nil {
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			require.NotEmpty(t, at.Fix)
			return
		}
		for _, s := range list {
			require.True(t, s.Density() > 0 && !math.IsInf(s.Density(), 0))
			p, err := s.Phase(b)
			if err != nil {
				require.ErrorIs(t, err, structure.ErrTooBig)
				continue
			}
			require.False(t, math.IsNaN(p.RIR.Value) || math.IsInf(p.RIR.Value, 0))
			last := 0.0
			for _, l := range p.Lines {
				require.True(t, l.TwoTheta > last && l.Intensity > 0 && !math.IsInf(l.Intensity, 0), "%v", l)
				require.NotEmpty(t, l.Families)
				last = l.TwoTheta
			}
		}
	})
}

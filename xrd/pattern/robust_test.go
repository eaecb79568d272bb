package pattern_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

// odd returns a number that a careless caller might pass.
func odd(rnd *rand.Rand) float64 {
	values := []float64{0, -1, 1, 1e-300, 1e300, -1e300, 1e9, math.NaN(), math.Inf(1), math.Inf(-1), 90, 180, 0.5}
	return values[rnd.IntN(len(values))]
}

// spoiled returns a setup with a few values replaced by odd ones.
func spoiled(t *testing.T, rnd *rand.Rand) pattern.Setup {
	x := angles(20, 60, 0.2)
	s := setup(x, make([]float64, len(x)), copper(t), everySystem(rnd)[:1+rnd.IntN(9)])
	for i := range s.Intensity {
		s.Intensity[i] = 10 + 100*rnd.Float64()*float64(i%20/19)
	}
	s.Poles = make([][][3]int, len(s.Phases))
	for i := range s.Poles {
		for range rnd.IntN(4) {
			s.Poles[i] = append(s.Poles[i], [3]int{rnd.IntN(3) - 1, rnd.IntN(3) - 1, rnd.IntN(3) - 1})
		}
	}
	for i := range s.Phases { // the lines are this call's own
		s.Phases[i].System = refdata.CrystalSystem(rnd.IntN(7))
	}
	phase := &s.Phases[rnd.IntN(len(s.Phases))]
	line := &phase.Lines[rnd.IntN(len(phase.Lines))]
	i := &s.Instrument
	numbers := []*float64{&s.TwoTheta[rnd.IntN(len(x))], &s.Intensity[rnd.IntN(len(x))], &s.Sigma[rnd.IntN(len(x))], &s.Gain, &s.Floor,
		&s.Radiation.KAlpha1, &s.Radiation.KAlpha2, &s.Radiation.KBeta, &s.Radiation.Ratio, &i.Zero, &i.ZeroU, &i.GaussTan2, &i.GaussTan, &i.GaussConst, &i.LorentzSize, &i.LorentzStrain,
		&i.Axial, &i.Radius, &i.Slit.Value, &s.Specimen.Length, &s.Start.Displacement, &s.Start.Kappa, &line.D, &line.Intensity, &phase.MeanB}
	if phase.Cell != nil {
		numbers = append(numbers, &phase.Cell.A, &phase.Cell.B, &phase.Cell.C, &phase.Cell.Alpha, &phase.Cell.Beta, &phase.Cell.Gamma)
		family := &line.Families[rnd.IntN(len(line.Families))]
		numbers = append(numbers, &family.F2)
		family.H, family.Multiplicity = rnd.IntN(5)-2, rnd.IntN(3)-1
	}
	for range rnd.IntN(3) {
		*numbers[rnd.IntN(len(numbers))] = odd(rnd)
	}
	s.Start.Values = map[pattern.Key]float64{{Kind: pattern.Kind(rnd.IntN(20)), ID: phase.ID}: odd(rnd)}
	s.Start.Knots = []int{0, 0, 1, 3, -1, 1 << 40}[rnd.IntN(6)]
	switch rnd.IntN(12) {
	case 0:
		s.Blank = s.Intensity
	case 1:
		s.Blank, s.BlankVar = make([]float64, len(x)), s.Sigma
	case 2:
		s.ExtraVariance = s.Intensity[1:]
	case 3:
		s.BlankVar = s.Sigma[:4]
	case 4:
		s.Instrument.Slit.Mode = xrd.SlitAutomatic
	case 5:
		s.Intensity = make([]float64, len(x))
	case 6:
		s.Poles = s.Poles[1:]
	}
	return s
}

// TestOddInput: whatever the setup holds, the answer is a fit or ErrSetup (or leastsq.ErrInput), never a panic, never a
// scale that is not a number.
func TestOddInput(t *testing.T) {
	fits, refused := 0, 0
	for seed := range uint64(400) {
		s := spoiled(t, rand.New(rand.NewPCG(seed, 11)))
		start := time.Now()
		f, err := pattern.Run(context.Background(), s, pattern.Effort(seed%2))
		require.Less(t, time.Since(start), 5*time.Minute, "seed %d", seed)
		if err != nil {
			refused++
			require.True(t, isOurs(err), "seed %d: %v", seed, err)
			continue
		}
		fits++
		for p, v := range f.Scales {
			require.True(t, v >= 0 && !math.IsInf(v, 0), "seed %d: scale %g", seed, v)
			f.Lines(p)
			f.Cell(p)
		}
		require.GreaterOrEqual(t, f.Agreement.BerarLelann, 1.0, "seed %d", seed)
		require.True(t, !math.IsNaN(f.Agreement.RWP) || slices.Max(s.Intensity) == 0, "seed %d", seed)
		_, err = pattern.ReleaseTexture(context.Background(), f)
		require.True(t, err == nil || isOurs(err), "seed %d: %v", seed, err)
	}
	t.Logf("%d fits, %d refused", fits, refused)
	require.Greater(t, fits, 50)
	require.Greater(t, refused, 50)
}

func isOurs(err error) bool {
	return errors.Is(err, pattern.ErrSetup) || errors.Is(err, leastsq.ErrInput)
}

package refdata_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
)

// TestPreparations: every phase that the table names is in the starter collection, everything that the collection says comes
// from preparation is in the table, and haloes lie where the literature puts them.
func TestPreparations(t *testing.T) {
	known := map[string]refdata.Record{}
	for _, r := range refdata.Starter() {
		known[r.ID] = r
	}
	named := map[string]bool{}
	for _, p := range refdata.Preparations() {
		if p.Phase != "" {
			assert.Contains(t, known, p.Phase, p.Material)
			named[p.Phase] = true
		}
		assert.NotEmpty(t, p.From, p.Material)
		assert.NotEmpty(t, p.Tell, p.Material)
		assert.NotEmpty(t, p.Avoid, p.Material)
	}
	for _, r := range refdata.Starter() {
		if r.Preparation != "" && r.ID != "sic-4h" && r.ID != "zirconia-cubic" { // told with their relatives
			assert.True(t, named[r.ID], r.ID)
		}
	}
	cu, _ := xrd.ParseRadiation("Cu")
	for material, want := range map[string][2]float64{ // degrees with Cu Kα: PRACTICE.md 1.1 (read)
		"epoxy": {12, 25}, "acrylic": {12, 14}, "glass slide": {22, 25}, "colloidal silica": {20, 24}} {
		for _, p := range refdata.Preparations() {
			if p.Material == material {
				at, ok := xrd.TwoTheta(p.Haloes[0].D, cu.KAlpha1)
				require.True(t, ok)
				assert.True(t, at >= want[0] && at <= want[1], "%s: %.1f°", material, at)
			}
		}
	}
}

func TestMountOf(t *testing.T) {
	for text, want := range map[string]string{"epoxy": "epoxy", "Cold resin (acrylic), 25 mm": "acrylic", "resin": "epoxy", "glass": "glass slide",
		"graphite-filled resin": "graphite-filled resin", "aluminium holder": "aluminium holder", "none": "", "": "", "levelling clay": "levelling clay"} {
		var names []string
		for _, p := range refdata.MountOf(refdata.Preparations(), text) {
			names = append(names, p.Material)
		}
		assert.Equal(t, want, strings.Join(names, ","), text)
	}
}

// A table of one's own has names of any script, and of none.
func TestMountOfAnyScript(t *testing.T) {
	table := []refdata.Preparation{{Material: "Öl", Kind: "holder"}, {Material: "эпоксидная смола", Kind: "mount"}, {Material: "4711", Kind: "mount"}}
	for text, want := range map[string][]refdata.Preparation{"Öl auf Glas": table[:1], "ЭПОКСИДНАЯ": table[1:2], "4711": nil, "l": nil, "": nil} {
		assert.Equal(t, want, refdata.MountOf(table, text), text)
	}
}

func TestReadPreparations(t *testing.T) {
	const head = "material,kind,phase,lines,halo_d,halo_width,from,tell,avoid,hazard\n"
	list, err := refdata.ReadPreparations(strings.NewReader(head+"our putty,holder,,\"9.3; 3.03\",4.2,7,shelf,talc,keep below,\n"), "lab.csv")
	require.NoError(t, err)
	assert.Equal(t, []refdata.Preparation{{Material: "our putty", Kind: "holder", Lines: []float64{9.3, 3.03}, Haloes: []refdata.Halo{{D: 4.2, Width: 7}}, From: "shelf", Tell: "talc", Avoid: "keep below"}}, list)
	for bad, line := range map[string]int{"": 1, "a,b\n": 1, head + "x,wall,,,,,,,,\n": 2, head + "x,holder,,abc,,,,,,\n": 2, head + "x,holder,,,4,,,,,\n": 2,
		head + "x,holder,,,NaN,5,,,,\n": 2, head + "# note\nx,holder\n": 3, head + ",holder,,,,,,,,\n": 2} {
		_, err := refdata.ReadPreparations(strings.NewReader(bad), "lab.csv")
		var syntax *xrd.SyntaxError
		require.True(t, errors.As(err, &syntax), "%q: %v", bad, err)
		assert.ErrorIs(t, err, refdata.ErrPreparation)
		assert.Equal(t, line, syntax.Line, bad)
	}
}

func FuzzPreparations(f *testing.F) {
	f.Add("material,kind,phase,lines,halo_d,halo_width,from,tell,avoid,hazard\nx,mount,,3.3;2,4,7,a,b,c,d\n")
	f.Add("material,kind,phase,lines,halo_d,halo_width,from,tell,avoid,hazard\n\x91,mount,,3.3;2,4,7,a,b,c,\n") // a name without a letter
	f.Fuzz(func(t *testing.T, text string) {
		list, err := refdata.ReadPreparations(strings.NewReader(text), "f")
		var syntax *xrd.SyntaxError
		if err != nil && !errors.As(err, &syntax) {
			t.Fatalf("%T", err)
		}
		refdata.MountOf(list, text)
	})
}

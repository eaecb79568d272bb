package xrd_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

func ExampleParseRadiation() {
	for _, s := range []string{"Cu", "1.5406", "unobtainium"} {
		r, err := xrd.ParseRadiation(s)
		fmt.Printf("%.6f %.6f %v\n", r.KAlpha1, r.KAlpha2, err)
	}
	// Output:
	// 1.540593 1.544427 <nil>
	// 1.540600 0.000000 <nil>
	// 0.000000 0.000000 unknown radiation "unobtainium": give one of Cr, Fe, Co, Cu, Mo, Ag, or one or two wavelengths in Å (0.1 to 10)
}

func ExampleParseMonochromator() {
	cu, _ := xrd.ParseRadiation("Cu")
	m, _ := xrd.ParseMonochromator("graphite", cu)
	fmt.Printf("2θm %.1f°, A %.3f\n", m.TwoTheta, m.PolarizationRatio())
	// Output: 2θm 26.5°, A 0.800
}

// At 60° 2θ without a monochromator, A = 1, and behind one of graphite, A = 0.8.
func ExampleLorentzPolarization() {
	fmt.Printf("%.3f %.3f\n", xrd.LorentzPolarization(60, 1), xrd.LorentzPolarization(60, 0.8))
	// Output: 2.887 3.079
}

// TestAnodesEnergies holds energies of NIST SRD 128 (read), eV, and converts them with 12398.41857 eV Å (Int. Tables C
// 4.2.2.14, read).
func TestAnodesEnergies(t *testing.T) {
	const source = "NIST SRD 128 (read)"
	energies := map[string][3]float64{
		"Cr": {5414.8045, 5405.5384, 5946.823},
		"Fe": {6404.0062, 6391.0264, 7058.175},
		"Co": {6930.3780, 6915.5380, 7649.445},
		"Cu": {8047.8227, 8027.8416, 8905.413},
		"Mo": {17479.372, 17374.29, 19608.34},
		"Ag": {22162.917, 21990.30, 24942.42},
	}
	anodes := xrd.Anodes()
	require.Len(t, anodes, len(energies))
	for _, a := range anodes {
		e := energies[a.Name]
		for i, got := range []float64{a.KAlpha1, a.KAlpha2, a.KBeta} {
			assert.InDelta(t, 12398.41857/e[i], got, 1e-8, "%s line %d, %s", a.Name, i, source)
		}
		assert.Equal(t, 0.5, a.Ratio)
	}
	assert.InDelta(t, 12398.41857/8398.242, xrd.WLAlpha, 1e-8, source)
}

func TestAnodesAgainstTheWholeTable(t *testing.T) {
	file, err := os.Open("../../shared/reference/a_wavelengths_nist_srd128.csv")
	if err != nil {
		t.Skip("SKIPPED: the table of wavelengths (../shared/reference) is not here")
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	require.NoError(t, err)
	table := map[string]float64{}
	for _, row := range rows[1:] {
		table[row[0]+" "+row[1]], err = strconv.ParseFloat(row[5], 64)
		require.NoError(t, err)
	}
	for _, a := range xrd.Anodes() {
		assert.Equal(t, table[a.Name+" Kalpha1"], a.KAlpha1)
		assert.Equal(t, table[a.Name+" Kalpha2"], a.KAlpha2)
		assert.Equal(t, table[a.Name+" Kbeta1"], a.KBeta)
	}
	assert.Equal(t, table["W Lalpha1"], xrd.WLAlpha)
}

func TestAnodesAreCopied(t *testing.T) {
	xrd.Anodes()[0].KAlpha1 = 7
	assert.NotEqual(t, 7.0, xrd.Anodes()[0].KAlpha1)
}

func TestParseRadiation(t *testing.T) {
	for in, want := range map[string]string{"Cu": "Cu", " co ": "Co", "MOKA": "Mo", "Cu Ka": "Cu", "Cu Kα": "Cu", "AgKα": "Ag"} {
		r, err := xrd.ParseRadiation(in)
		require.NoError(t, err, in)
		assert.Equal(t, want, r.Name, in)
	}
	two, err := xrd.ParseRadiation("1.5406, 1.5444")
	require.NoError(t, err)
	assert.Equal(t, [3]float64{1.5406, 1.5444, 0.5}, [3]float64{two.KAlpha1, two.KAlpha2, two.Ratio})
	one, err := xrd.ParseRadiation("0.4959")
	require.NoError(t, err)
	assert.Equal(t, xrd.Radiation{Name: "0.4959", KAlpha1: 0.4959}, one)
	for _, bad := range []string{"", "Pu", "Cu,Co", "1.54,", ",1.54", "1.54,1.53", "1.54,1.54", "1.54,1.8", "1,2,3", "NaN", "Inf", "-1.5", "0", "0.05", "11", "1.5,NaN"} {
		_, err := xrd.ParseRadiation(bad)
		assert.ErrorIs(t, err, xrd.ErrUnknownRadiation, bad)
	}
}

func TestAnode(t *testing.T) {
	mono, _ := xrd.ParseRadiation("1.5406")
	anode, ok := mono.Anode()
	require.True(t, ok)
	assert.Equal(t, "Cu", anode.Name)
	synchrotron, _ := xrd.ParseRadiation("0.4959")
	_, ok = synchrotron.Anode()
	assert.False(t, ok)
	for _, a := range xrd.Anodes() {
		assert.True(t, a.KBeta < a.KAlpha1 && a.KAlpha1 < a.KAlpha2, a.Name)
	}
}

func TestParseMonochromator(t *testing.T) {
	cu, _ := xrd.ParseRadiation("Cu")
	for in, want := range map[string]float64{"": 1, "none": 1, " NONE ": 1, "60": 0.25, "perfect:60": 0.5, "90": 0, "perfect:120": 0.5} {
		m, err := xrd.ParseMonochromator(in, cu)
		require.NoError(t, err, in)
		assert.InDelta(t, want, m.PolarizationRatio(), 1e-12, "exact: cos² or |cos| of %q", in)
		again, err := xrd.ParseMonochromator(m.String(), cu)
		require.NoError(t, err)
		assert.Equal(t, m, again, "round trip of %q", in)
	}
	graphite, err := xrd.ParseMonochromator("Graphite", cu)
	require.NoError(t, err)
	assert.InDelta(t, 26.6, graphite.TwoTheta, 0.1, "common practice")
	for _, bad := range []string{"glass", "0", "-5", "180", "NaN", "inf", "perfect:", "perfect:x", "perfect:none"} {
		_, err := xrd.ParseMonochromator(bad, cu)
		assert.ErrorIs(t, err, xrd.ErrUnknownMonochromator, bad)
	}
	_, err = xrd.ParseMonochromator("graphite", xrd.Radiation{KAlpha1: 9})
	assert.ErrorIs(t, err, xrd.ErrUnknownMonochromator, "graphite cannot diffract 9 Å")
}

func TestLorentzPolarization(t *testing.T) {
	// At 2θ = 90°: cos 2θ = 0, so LP = 1/((1 + A)·½·√½).
	for _, a := range []float64{1, 0.8, 0} {
		assert.InDelta(t, 1/((1+a)*0.5*math.Sqrt2/2), xrd.LorentzPolarization(90, a), 1e-12, "exact")
	}
	// With A = 1 this is half of the textbook (1 + cos²2θ)/(sin²θ cos θ).
	for angle := 5.0; angle < 175; angle += 7 {
		theta := angle * math.Pi / 360
		textbook := (1 + math.Pow(math.Cos(2*theta), 2)) / (math.Pow(math.Sin(theta), 2) * math.Cos(theta))
		assert.InEpsilon(t, textbook/2, xrd.LorentzPolarization(angle, 1), 1e-12)
	}
	// A crystal raises what diffracts near 90° over what diffracts at low angles.
	assert.Greater(t, xrd.LorentzPolarization(90, 0.8)/xrd.LorentzPolarization(20, 0.8), xrd.LorentzPolarization(90, 1)/xrd.LorentzPolarization(20, 1))
}

func TestBroadness(t *testing.T) {
	for _, c := range []struct {
		wavelength, want float64
		source           string
	}{
		{1.5406, 1, "definition"},
		{0.7093, 0.7093 / 1.5406, "definition: Mo"},
		{2.2897, 2.2897 / 1.5406, "definition: Cr"},
		{0.2, 0.4, "bound"},
		{5, 1.6, "bound"},
	} {
		assert.InDelta(t, c.want, xrd.Broadness(c.wavelength), 1e-12, c.source)
	}
}

func TestSameTube(t *testing.T) {
	cu, co := xrd.Radiation{KAlpha1: 1.5405929}, xrd.Radiation{KAlpha1: 1.788996} // Hölzer et al. 1997, from memory
	assert.True(t, cu.SameTube(xrd.Radiation{KAlpha1: 1.5418}), "the mean of the doublet")
	assert.False(t, cu.SameTube(co))
	assert.False(t, co.SameTube(cu))
}

// A single wavelength may be Kα1 or the mean of a doublet; those of International Tables C (4.2.2.1), Å, from memory: Cr 2.29100,
// Fe 1.93736, Co 1.79026, Cu 1.54184, Mo 0.71073, Ag 0.56087.
func TestAloneOf(t *testing.T) {
	for wavelength, anode := range map[string]string{"2.2910": "Cr", "1.9374": "Fe", "1.7903": "Co", "1.5418": "Cu", "1.54184": "Cu", "0.7107": "Mo", "0.5609": "Ag",
		"1.5406": "Cu", "1.5405": "Cu", "0.7093": "Mo", "1.5443": "", "1.5390": "", "0.4133": "", "1.5406,1.5444": "", "Cu": ""} {
		r, err := xrd.ParseRadiation(wavelength)
		require.NoError(t, err)
		tube, ok := r.AloneOf()
		assert.Equal(t, anode != "", ok, wavelength)
		assert.Equal(t, anode, tube.Name, wavelength)
	}
}

func TestLinesUpTo(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	// Silicon 440, d = 0.96001 Å (NIST SRM 640, a = 5.4312 Å): Kα1 at 106.71°, Kβ at 92.95°.
	const d = 5.4312 / 5.656854249
	beta, ok := xrd.TwoTheta(d, cu.KBeta)
	require.True(t, ok)
	assert.InDelta(t, 92.95, beta, 0.01)
	assert.InDelta(t, 106.71, cu.LinesUpTo(beta), 0.01)
	assert.Equal(t, 180.0, cu.LinesUpTo(170), "no plane is too narrow")
	cu.KBeta = 0
	assert.Equal(t, 95.0, cu.LinesUpTo(95))
}

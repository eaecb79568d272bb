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

func ExampleDisplacementShift() {
	fmt.Printf("%.4f°\n", xrd.DisplacementShift(28.44, 0.1, 217.5)) // 0.1 mm too low
	// Output: -0.0511°
}

func ExampleFootprintFactor() {
	slit, _ := xrd.ParseSlit("fixed:1.0")
	fmt.Printf("%.2f\n", xrd.FootprintFactor(30, slit, 240, 10)) // a specimen 10 mm long
	// Output: 0.62
}

func ExampleInformationDepth() {
	const copper = 52.6 * 8.96 // 1/cm for Cu Kα: mass attenuation times density
	fmt.Printf("%.0f µm\n", xrd.InformationDepth(30, copper, 0.95))
	// Output: 8 µm
}

// TestDisplacementShift holds rows of a table derived apart from this code with Δ2θ = −2 s cos θ/R.
func TestDisplacementShift(t *testing.T) {
	const source = "derived apart, five decimals, R = 217.5 mm"
	for _, c := range []struct{ s, angle, want float64 }{
		{0.01, 20, -0.00519}, {0.01, 136.879, -0.00194}, {0.05, 28.4409, -0.02554},
		{0.05, 100, -0.01693}, {0.1, 20, -0.05189}, {0.1, 60, -0.04563}, {0.1, 136.879, -0.01936},
	} {
		assert.InDelta(t, c.want, xrd.DisplacementShift(c.angle, c.s, 217.5), 5.1e-6, "%+v (%s)", c, source)
	}
	assert.InDelta(t, -0.047, xrd.DisplacementShift(20, 0.1, 240), 5e-4, "common practice, R 240")
	assert.InDelta(t, -0.054, xrd.DisplacementShift(90, 0.1, 150), 5e-4, "common practice, R 150")
	assert.Equal(t, -xrd.DisplacementShift(50, 0.2, 200), xrd.DisplacementShift(50, -0.2, 200), "odd in the displacement")
}

// TestWorkedNumbers reads the whole table of derived numbers where it is at hand.
func TestWorkedNumbers(t *testing.T) {
	file, err := os.Open("../../shared/reference/f_derived_worked_numbers.csv")
	if err != nil {
		t.Skip("SKIPPED: the table of derived numbers (../shared/reference) is not here")
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment, r.FieldsPerRecord, r.LazyQuotes = '#', -1, true
	rows, err := r.ReadAll()
	require.NoError(t, err)
	n, mu := 0, 0.0
	for _, row := range rows[1:] {
		want, err := strconv.ParseFloat(row[3], 64)
		require.NoError(t, err)
		var s, radius, angle, rho float64
		var name string
		switch {
		case row[0] == "displacement":
			_, err = fmt.Sscanf(row[2], "s=%f mm, R=%f mm, 2theta=%f", &s, &radius, &angle)
			require.NoError(t, err, row[2])
			assert.InDelta(t, want, xrd.DisplacementShift(angle, s, radius), 5.1e-6, row[2])
			n++
		case row[0] == "compound mass attenuation":
			mu = want
		case len(row[0]) > 9 && row[0][:9] == "depth for":
			_, err = fmt.Sscanf(row[2], "%s rho=%f, 2theta=%f", &name, &rho, &angle)
			require.NoError(t, err, row[2])
			assert.InDelta(t, want, xrd.InformationDepth(angle, mu*rho, 0.99), 0.06, row[2])
			n++
		case row[0] == "footprint approx":
			_, err = fmt.Sscanf(row[2], "R=%f mm, delta=%f deg, 2theta=%f", &radius, &s, &angle)
			require.NoError(t, err, row[2])
			half := xrd.FootprintFactor(angle, xrd.Slit{Mode: xrd.SlitFixed, Value: s}, radius, want/2)
			assert.InDelta(t, 0.5, half, 5e-5, row[2])
			n++
		}
	}
	assert.Equal(t, 28, n, "rows checked")
}

func TestFootprintFactor(t *testing.T) {
	fixed := xrd.Slit{Mode: xrd.SlitFixed, Value: 1}
	for _, c := range []struct {
		source        string
		slit          xrd.Slit
		length, angle float64
		want, delta   float64
	}{
		{"common practice: 10 mm long is just filled at 49.5°, R 240, 1°", fixed, 10, 49.55, 1, 0.001},
		{"derived: half as long, half the beam", fixed, 5, 49.55, 0.5, 0.001},
		{"longer than the beam", fixed, 100, 49.55, 1, 0},
		{"no length stated", fixed, 0, 10, 1, 0},
		{"no opening stated", xrd.Slit{Mode: xrd.SlitFixed}, 10, 10, 1, 0},
		{"not stated", xrd.Slit{}, 10, 10, 1, 0},
		{"automatic: sin 30°", xrd.Slit{Mode: xrd.SlitAutomatic, Value: 10}, 20, 60, 0.5, 1e-12},
	} {
		assert.InDelta(t, c.want, xrd.FootprintFactor(c.angle, c.slit, 240, c.length), c.delta+1e-15, c.source)
	}
	for angle := 5.0; angle < 150; angle += 5 {
		a, b := xrd.FootprintFactor(angle, fixed, 240, 15), xrd.FootprintFactor(angle+5, fixed, 240, 15)
		assert.LessOrEqual(t, a, b, "never falls with the angle")
	}
}

// TestInformationDepth checks depths of PRACTICE 1.1 (µm at 2θ 30° and 90°, Cu Kα, computed there).
func TestInformationDepth(t *testing.T) {
	for _, c := range []struct {
		name, source   string
		muRho, density float64
		low, high      float64
	}{
		{"Cu", "μ/ρ 52.7 (from memory)", 52.7, 8.96, 8, 23},
		{"Si", "μ/ρ 63.57 (derived table)", 63.57, 2.329, 26, 72},
		{"Al2O3", "μ/ρ 31.56 (derived table)", 31.56, 3.987, 31, 84},
	} {
		require.NotEmpty(t, c.source)
		mu := c.muRho * c.density
		assert.InDelta(t, c.low, xrd.InformationDepth(30, mu, 0.95), 0.03*c.low+0.5, c.name)
		assert.InDelta(t, c.high, xrd.InformationDepth(90, mu, 0.95), 0.03*c.high+0.5, c.name)
	}
	assert.InEpsilon(t, math.Log(100)/math.Log(20), xrd.InformationDepth(40, 100, 0.99)/xrd.InformationDepth(40, 100, 0.95), 1e-12)
	assert.Zero(t, xrd.InformationDepth(40, 100, 0))
}

func TestInstrumentWidths(t *testing.T) {
	in := xrd.Instrument{GaussTan2: 0.004, GaussTan: -0.003, GaussConst: 0.006, LorentzSize: 0.015, LorentzStrain: 0.02}
	assert.InDelta(t, math.Sqrt(0.004-0.003+0.006), in.GaussianFWHM(90), 1e-12, "exact: tan 45° = 1")
	assert.InDelta(t, (0.015+0.02*math.Sqrt2/2)*math.Sqrt2, in.LorentzianFWHM(90), 1e-12, "exact")
	assert.Equal(t, 0.001, xrd.Instrument{GaussConst: -1}.GaussianFWHM(40), "never below 0.001°")
	assert.Zero(t, xrd.Instrument{LorentzSize: -1}.LorentzianFWHM(40), "never below 0")
	ordinary := xrd.DefaultInstrument()
	for angle := 20.0; angle <= 100; angle += 10 {
		fwhm, eta := xrd.ThompsonCoxHastings(ordinary.GaussianFWHM(angle), ordinary.LorentzianFWHM(angle))
		assert.True(t, fwhm > 0.06 && fwhm < 0.16, "FWHM %g at %g° (common practice 0.08° to 0.15°)", fwhm, angle)
		assert.True(t, eta > 0 && eta < 1)
	}
}

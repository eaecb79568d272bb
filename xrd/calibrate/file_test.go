package calibrate_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/calibrate"
)

// sample is an instrument with something in every field.
func sample(t testing.TB) (xrd.Instrument, calibrate.About) {
	return xrd.Instrument{Tube: "Cu", Name: "bench \"two\"\\ \t ü", Calibrated: true, Zero: -0.0123456789012345, ZeroU: 0.0028, GaussTan2: 0.0041, GaussTan: -0.0032, GaussConst: 0.00567,
			LorentzSize: 0.0151, LorentzStrain: 1.0 / 3, Axial: 0.03, Radius: 217.5, Slit: xrd.Slit{Mode: xrd.SlitFixed, Value: 0.5},
			Monochromator: xrd.Monochromator{Kind: xrd.MosaicMonochromator, TwoTheta: 26.5376123}},
		calibrate.About{Scan: "silicon.xy", Standard: "silicon (SRM 640f)", Radiation: copper(t), Range: [2]float64{20, 140.02},
			Displacement: -0.061, DisplacementU: 0.005, Correlation: -0.9912}
}

func written(t testing.TB, ins xrd.Instrument, about calibrate.About) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, calibrate.WriteInstrument(&b, ins, about))
	return b.String()
}

func ExampleWriteInstrument() {
	ins := xrd.DefaultInstrument()
	ins.Zero, ins.ZeroU = 0.021, 0.003
	cu, _ := xrd.ParseRadiation("Cu")
	var b bytes.Buffer
	if err := calibrate.WriteInstrument(&b, ins, calibrate.About{Radiation: cu}); err != nil {
		fmt.Println(err)
	}
	for line := range strings.Lines(b.String()) {
		if strings.HasPrefix(line, "zero") {
			fmt.Print(line)
		}
	}
	// Output:
	// zero = 0.021 # added to every angle, degrees 2θ
	// zero_u = 0.003 # its standard uncertainty, degrees 2θ
	// zero_displacement_correlation = 0.0 # of the shifts that zero and displacement cause
}

func ExampleReadInstrument() {
	_, _, err := calibrate.ReadInstrument(strings.NewReader("schema = \"phasetally.instrument/1\"\nradiation = \"Cu\"\nradius_mm = -3\n"), "mine.toml")
	fmt.Println(err)
	// Output: mine.toml:3: radius_mm: -3 lies outside 10 to 2000; correct it, or write the file anew with phasetally calibrate
}

func TestRoundTrip(t *testing.T) {
	ins, about := sample(t)
	got, gotAbout, err := calibrate.ReadInstrument(strings.NewReader(written(t, ins, about)), "a.toml")
	require.NoError(t, err)
	assert.Equal(t, ins, got)
	assert.Equal(t, about, gotAbout)

	rnd := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		v := func() float64 { return (rnd.Float64() - 0.5) * math.Pow(10, -6*rnd.Float64()) }
		ins.Zero, ins.ZeroU, ins.Axial = v(), math.Abs(v()), math.Abs(v())
		// widths that can be: U (tan θ − τ)² + least, and a Lorentzian part that never falls below 0
		u, tau, least := math.Abs(v())/20, v(), 0.001+math.Abs(v())/20
		ins.GaussTan2, ins.GaussTan, ins.GaussConst = u, -2*u*tau, u*tau*tau+least
		ins.LorentzStrain = v() / 20
		ins.LorentzSize = math.Abs(ins.LorentzStrain) + math.Abs(v())/20
		ins.Slit = xrd.Slit{Mode: xrd.SlitMode(rnd.IntN(3))}
		if ins.Slit.Mode != xrd.SlitUnknown {
			ins.Slit.Value = 0.1 + rnd.Float64()
		}
		ins.Monochromator = xrd.Monochromator{Kind: xrd.MonochromatorKind(rnd.IntN(3))}
		if ins.Monochromator.Kind != xrd.NoMonochromator {
			ins.Monochromator.TwoTheta = 1 + 100*rnd.Float64()
		}
		about.Radiation = xrd.Anodes()[rnd.IntN(6)]
		about.Radiation.Ratio = rnd.Float64()
		ins.Tube = about.Radiation.Name
		got, gotAbout, err := calibrate.ReadInstrument(strings.NewReader(written(t, ins, about)), "a.toml")
		require.NoError(t, err)
		require.Equal(t, ins, got)
		require.Equal(t, about, gotAbout)
	}
	for _, s := range []string{"1.5406", "1.5406,1.5444"} {
		about.Radiation, err = xrd.ParseRadiation(s)
		require.NoError(t, err)
		_, gotAbout, err = calibrate.ReadInstrument(strings.NewReader(written(t, ins, about)), "a.toml")
		require.NoError(t, err)
		assert.Equal(t, about.Radiation, gotAbout.Radiation)
	}
}

// TestOldNamesOfWidths: files in which the widths are single letters are read, and a letter beside its new name is refused.
func TestOldNamesOfWidths(t *testing.T) {
	ins, about := sample(t)
	now := written(t, ins, about)
	old := now
	for name, letter := range map[string]string{"gauss_tan2": "u", "gauss_tan": "v", "gauss_const": "w", "lorentz_size": "x", "lorentz_strain": "y"} {
		require.Contains(t, now, "\n"+name+" = ")
		old = strings.Replace(old, "\n"+name+" = ", "\n"+letter+" = ", 1)
	}
	got, _, err := calibrate.ReadInstrument(strings.NewReader(old), "old.toml")
	require.NoError(t, err)
	assert.Equal(t, ins, got)

	_, _, err = calibrate.ReadInstrument(strings.NewReader(now+"u = 0.1\n"), "both.toml")
	assert.ErrorContains(t, err, "both.toml:24: u: unknown key")
	_, _, err = calibrate.ReadInstrument(strings.NewReader(strings.Replace(old, "\nu = ", "\nu = -99.0 #", 1)), "old.toml")
	assert.ErrorContains(t, err, "old.toml:11: u: -99 lies outside", "errors name the key as it is written")
}

// TestEveryKeyIsExplained: each line of a written file is a key with a unit or a meaning.
func TestEveryKeyIsExplained(t *testing.T) {
	ins, about := sample(t)
	lines := strings.Split(strings.TrimSpace(written(t, ins, about)), "\n")
	assert.True(t, strings.HasPrefix(lines[0], "# "))
	assert.Equal(t, `schema = "phasetally.instrument/1"`, lines[1])
	for _, l := range lines[2:] {
		assert.Regexp(t, `^[a-z0-9_]+ = .+ # \S`, l)
	}
}

func TestRefusedFiles(t *testing.T) {
	ins, about := sample(t)
	good := written(t, ins, about)
	with := func(key, value string) string { // replaces the value of a key, or the whole line
		var b strings.Builder
		for line := range strings.Lines(good) {
			if strings.HasPrefix(line, key+" = ") {
				line = value + "\n"
			}
			b.WriteString(line)
		}
		return b.String()
	}
	for _, c := range []struct {
		name, text string
		line       int
		says       string
	}{
		{"empty", "", 0, "schema: the key is missing"},
		{"no TOML", "zero = = 3", 1, "not an instrument file"},
		{"a scan", "10.00 33\n10.02 40\n", 1, "not an instrument file"},
		{"other schema", with("schema", `schema = "phasetally.instrument/9"`), 2, "this version reads"},
		{"unknown key", good + "zer0 = 3\n", 24, "zer0: unknown key"},
		{"unknown table", good + "\n[extra]\na = 1\n", 25, "extra: unknown key"},
		{"missing", with("zero", ""), 0, "zero: the key is missing"},
		{"twice", good + "zero = 1.0\n", 24, "zero"},
		{"text for number", with("zero", `zero = "0.1"`), 9, "expected a number"},
		{"number for text", with("radiation", `radiation = 1.54`), 4, "expected a text"},
		{"date for number", with("lorentz_size", `lorentz_size = 2020-01-01`), 14, "expected a number"},
		{"not a number", with("gauss_tan2", `gauss_tan2 = nan`), 11, "outside"},
		{"infinite", with("gauss_tan", `gauss_tan = -inf`), 12, "outside"},
		{"no radius", with("radius_mm", `radius_mm = 0`), 6, "outside"},
		{"negative widths", with("gauss_const", `gauss_const = -1.0`), 13, "gauss_const: the square of the Gaussian width would be"},
		{"negative above", with("gauss_tan", `gauss_tan = -0.02`), 13, "gauss_const: the square of the Gaussian width would be"},
		{"negative Lorentzian widths", with("lorentz_size", `lorentz_size = -0.2`), 14, "lorentz_size: the Lorentzian width would be -0.144° at 20°"},
		{"broad as a halo", with("lorentz_strain", `lorentz_strain = 4.0`), 13, "and those of a diffractometer are"},
		{"narrower than any", strings.NewReplacer("lorentz_size = 0.0151", "lorentz_size = 0.0", "lorentz_strain = 0.3333333333333333", "lorentz_strain = 0.0", "gauss_tan2 = 0.0041", "gauss_tan2 = 0.0", "gauss_tan = -0.0032", "gauss_tan = 0.0", "gauss_const = 0.00567", "gauss_const = 0.0").Replace(good), 13, "lines would be 0.001° wide"},
		{"tail beyond any axial divergence", with("axial", `axial = 5.0`), 16, "axial: 5 lies outside"},
		{"negative uncertainty", with("zero_u", `zero_u = -1e-3`), 10, "outside"},
		{"odd radiation", with("radiation", `radiation = "Cx"`), 4, "unknown radiation"},
		{"odd slit", with("slit", `slit = "wide"`), 7, "unknown slit"},
		{"odd monochromator", with("monochromator", `monochromator = "glass"`), 8, "unknown monochromator"},
		{"too long", good + strings.Repeat("#", 1<<17), 0, "longer than"},
		{"not UTF-8", "schema = \"\xff\"", 1, "not an instrument file"},
	} {
		_, _, err := calibrate.ReadInstrument(strings.NewReader(c.text), "bad.toml")
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at, c.name)
		assert.Equal(t, "bad.toml", at.File, c.name)
		assert.Equal(t, c.line, at.Line, "%s: %v", c.name, err)
		assert.Contains(t, err.Error(), c.says, c.name)
		assert.NotEmpty(t, at.Fix, c.name)
	}
	_, _, err := calibrate.ReadInstrument(broken{}, "bad.toml")
	assert.ErrorIs(t, err, os.ErrClosed)
	integer, _, err := calibrate.ReadInstrument(strings.NewReader(with("radius_mm", "radius_mm = 240")), "good.toml")
	require.NoError(t, err, "a whole number is a number")
	assert.Equal(t, 240.0, integer.Radius)
}

type broken struct{}

func (broken) Read([]byte) (int, error)  { return 0, os.ErrClosed }
func (broken) Write([]byte) (int, error) { return 0, os.ErrClosed }

func TestWriterRefuses(t *testing.T) {
	ins, about := sample(t)
	for _, edit := range []func(*xrd.Instrument){
		func(i *xrd.Instrument) { i.Zero = math.NaN() },
		func(i *xrd.Instrument) { i.GaussTan2 = math.Inf(1) },
		func(i *xrd.Instrument) { i.Radius = 0 },
		func(i *xrd.Instrument) { i.ZeroU = -1 },
		func(i *xrd.Instrument) { i.GaussConst = -1 },
	} {
		bad := ins
		edit(&bad)
		var b bytes.Buffer
		assert.ErrorIs(t, calibrate.WriteInstrument(&b, bad, about), calibrate.ErrInstrumentFile)
		assert.Zero(t, b.Len(), "nothing is written")
	}
	assert.ErrorIs(t, calibrate.WriteInstrument(broken{}, ins, about), os.ErrClosed)
}

// FuzzReadInstrument: what is refused has the typed error, what is accepted survives a round trip.
func FuzzReadInstrument(f *testing.F) {
	ins, about := sample(f)
	good := written(f, ins, about)
	for _, s := range []string{good, "", "zero = 1", "[a]\nb = 1", strings.ReplaceAll(good, "\n", "\r\n"), "\ufeff" + good,
		"schema = 'phasetally.instrument/1'\nradiation='1.54'\nradius_mm=200\nzero=0\nu=0\nv=0\nw=0\nx=0\ny=0\naxial=0\nmonochromator='graphite'\nslit='fixed'",
		strings.Replace(good, `"Cu"`, `"cu"`, 1)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, in string) {
		ins, about, err := calibrate.ReadInstrument(strings.NewReader(in), "fuzz.toml")
		if err != nil {
			var at *xrd.SyntaxError
			if !errors.As(err, &at) {
				t.Fatalf("bare error %v", err)
			}
			return
		}
		var b bytes.Buffer
		require.NoError(t, calibrate.WriteInstrument(&b, ins, about))
		again, aboutAgain, err := calibrate.ReadInstrument(&b, "again.toml")
		require.NoError(t, err)
		require.Equal(t, ins, again)
		require.Equal(t, about, aboutAgain)
	})
}

package listfile_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/unicode"

	"phasetally/refdata"
	"phasetally/refdata/listfile"
	"phasetally/xrd"
)

func beam(t testing.TB, radiation string) refdata.Beam {
	r, err := xrd.ParseRadiation(radiation)
	require.NoError(t, err)
	return refdata.Beam{Radiation: r}
}

func read(t testing.TB, text string) []listfile.List {
	t.Helper()
	lists, err := listfile.Read(strings.NewReader(text), "lines.csv")
	require.NoError(t, err)
	return lists
}

const silver = "phase,formula,d,intensity,h,k,l,rir,rir_origin,rir_basis,rir_radiation,density,a\n" +
	"Silver,Ag,2.3592,100,1,1,1,18.04,computed,area,Cu,10.50,4.0862\n" +
	"silver,,2.0431,47.2,2,0,0,,,,,,\n" +
	"Silver,Ag,1.4447,26.9,2,2,0,18.04,,,,,\n"

// A list of lines, as an older table gives it, becomes a phase whose angles follow from its spacings.
func Example() {
	const table = "phase,formula,d,intensity,h,k,l,rir,rir_origin,rir_basis,rir_radiation,density,a\n" +
		"Silver,Ag,2.3592,100,1,1,1,18.04,computed,area,Cu,10.50,4.0862\n" +
		"Silver,Ag,2.0431,47.2,2,0,0,18.04,computed,area,Cu,10.50,4.0862\n" +
		"Silver,Ag,1.4447,26.9,2,2,0,18.04,computed,area,Cu,10.50,4.0862\n"
	lists, err := listfile.Read(strings.NewReader(table), "silver.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	cu, _ := xrd.ParseRadiation("Cu")
	phase, err := lists[0].Phase(refdata.Beam{Radiation: cu})
	fmt.Printf("%s: %d lines, the first at %.2f°, RIR %.2f, %v\n", phase.ID, len(phase.Lines), phase.Lines[0].TwoTheta, phase.RIR.Value, err)
	_, err = listfile.Read(strings.NewReader("phase,intensity\nsilver,100\n"), "short.csv")
	fmt.Println(err)
	// Output:
	// silver: 3 lines, the first at 38.11°, RIR 18.04, <nil>
	// short.csv:1: a required column is missing: d or two_theta; the columns are "phase", "intensity"; name the columns phase, d, intensity (and others) in the first row
}

func TestReadPhase(t *testing.T) {
	lists := read(t, silver)
	require.Len(t, lists, 1)
	p, err := lists[0].Phase(beam(t, "Cu"))
	require.NoError(t, err)
	assert.Equal(t, "Silver", p.Name)
	assert.Equal(t, refdata.Cubic, p.System)
	assert.Equal(t, refdata.RIR{Value: 18.04, RelU: 0.05, Origin: "computed", Basis: "area", Radiation: "Cu"}, p.RIR)
	assert.Equal(t, "given", p.DensityOrigin)
	assert.Empty(t, p.Cautions)
	// μ/ρ of silver for Cu Kα: 218 cm²/g (Int. Tables C 4.2.4, from memory; tables differ by 2 to 3 %)
	assert.InDelta(t, 218, p.MassAbsorption, 6)
	assert.Equal(t, []refdata.ElementShare{{Symbol: "Ag", MassFraction: 1}}, p.Composition)
	assert.True(t, lists[0].Elements().Has(47))
}

func TestSpreadsheetDialects(t *testing.T) {
	want := read(t, "phase,d,intensity\nzincite,2.4759,100\nzincite,2.8143,57.5\n")
	swap := strings.NewReplacer(",", ";", ".", ",").Replace
	plain := "phase,d,intensity\nzincite,2.4759,100\nzincite,2.8143,57.5\n"
	utf16 := func(e unicode.Endianness, mark unicode.BOMPolicy, s string) string {
		out, err := unicode.UTF16(e, mark).NewEncoder().String(s)
		require.NoError(t, err)
		return out
	}
	for name, text := range map[string]string{
		"semicolon, decimal comma": swap(plain),
		"tab":                      strings.ReplaceAll(plain, ",", "\t"),
		"tab, decimal comma":       strings.ReplaceAll(swap(plain), ";", "\t"),
		"quoted decimal comma":     "phase,d,intensity\nzincite,\"2,4759\",100\nzincite,\"2,8143\",\"57,5\"\n",
		"quoted fields":            "\"phase\",\"d\",\"intensity\"\n\"zincite\",\"2.4759\",\"100\"\n\"zincite\",\"2.8143\",\"57.5\"\n",
		"mark, CRLF":               "\xef\xbb\xbf" + strings.ReplaceAll(plain, "\n", "\r\n"),
		"CR":                       strings.ReplaceAll(plain, "\n", "\r"),
		"UTF-16 LE":                utf16(unicode.LittleEndian, unicode.UseBOM, plain),
		"UTF-16 BE":                utf16(unicode.BigEndian, unicode.UseBOM, plain),
		"UTF-16 without mark":      utf16(unicode.LittleEndian, unicode.IgnoreBOM, plain),
		"UTF-16 BE without mark":   utf16(unicode.BigEndian, unicode.IgnoreBOM, plain),
		"separator named":          "sep=;\n" + swap(plain),
		"other order, units":       "Intensity, d (Å) ,Phase\n100,2.4759,zincite\n57.5,2.8143,zincite\n",
		"absolute intensities":     "phase,d,intensity\nzincite,2.4759,2000\nzincite,2.8143,1150\n",
		"comments, empty rows":     "# from a handbook\n\nphase,d,intensity\nzincite,2.4759,100\n,,\n# weak\nzincite,2.8143,57.5\n",
		"blanks":                   "phase , d , intensity\n zincite , 2.4759 , 100 \n zincite,2.8143,57.5",
	} {
		got, err := listfile.Read(strings.NewReader(text), "lines.csv")
		require.NoError(t, err, name)
		require.Len(t, got, 1, name)
		assert.Equal(t, "zincite", got[0].ID, name)
		for i, row := range got[0].Rows {
			assert.Equal(t, want[0].Rows[i].D, row.D, name)
			assert.InDelta(t, want[0].Rows[i].Intensity, row.Intensity, 1e-12, name)
		}
	}
	latin := read(t, "phase,d,intensity\nw\xfcstite,2.153,100\n")
	assert.Equal(t, "wüstite", latin[0].Name)
}

func TestReadAngles(t *testing.T) {
	// exact: λ/(2 sin 30°) = λ
	for _, head := range []string{"wavelength", "radiation"} {
		lists := read(t, "phase,two_theta,"+head+",intensity\nx,60,1.5406,100\n")
		assert.InDelta(t, 1.5406, lists[0].Rows[0].D, 1e-12, head)
	}
	lists := read(t, "phase;two_theta;wavelength;intensity\nx;60;1,5406;100\n")
	assert.InDelta(t, 1.5406, lists[0].Rows[0].D, 1e-12)
	lists = read(t, "phase,two_theta,radiation,intensity\nx,60,Co,100\nx,90,,10\n")
	assert.InDelta(t, 1.78899601, lists[0].Rows[0].D, 1e-9)
	assert.InDelta(t, 1.78899601/math.Sqrt2, lists[0].Rows[1].D, 1e-9)
}

func TestIDs(t *testing.T) {
	for name, want := range map[string]string{"Tin (β)": "tin-β", "Cu6Sn5 η'": "cu6sn5-η", "  Ti C ": "ti-c", "SiC_6H": "sic-6h", "Fe0.942O": "fe0.942o"} {
		assert.Equal(t, want, listfile.Slug(name), name)
	}
	lists := read(t, "phase,id,d,intensity\nTin,mine,2.9,10\nTIN,,2.8,10\n")
	assert.Equal(t, []string{"mine", "tin"}, []string{lists[0].ID, lists[1].ID})
}

func TestNotes(t *testing.T) {
	lists := read(t, "phase,d,intensity,colour,formula\nx,2,10,red,(Fe;Ni)\n")
	assert.Len(t, lists[0].Notes, 2)
	assert.Contains(t, lists[0].Notes[1], `"colour"`)
	assert.Contains(t, lists[0].Notes[0], "elements count as unknown")
	assert.Zero(t, lists[0].Elements().Len())
	assert.Equal(t, "Cu3Sn", read(t, "phase,d,intensity\nCu3Sn,2,10\n")[0].Formula, "a name that is a formula")
}

func TestRefusals(t *testing.T) {
	const head = "phase,d,intensity,h,k,l,rir,rir_origin,rir_basis,density,a,c,gamma,soluble\n"
	const good = "x,2.0,100,1,0,0,1.5,measured,height,5,2,3,90,no\n"
	for _, c := range []struct {
		reason, text string
		line         int
		cause        error
	}{
		{"no rows", head, 0, listfile.ErrNoRows},
		{"nothing", "", 0, listfile.ErrNoRows},
		{"no phase column", "name,d,intensity\n", 1, listfile.ErrMissingColumn},
		{"no intensity column", "phase,d\nx,2\n", 1, listfile.ErrMissingColumn},
		{"angle without radiation", "phase,two_theta,intensity\nx,30,100\n", 1, listfile.ErrMissingColumn},
		{"two d columns", "phase,d,D,intensity\n", 1, listfile.ErrTwiceColumn},
		{"d zero", head + "x,0,100\n", 2, listfile.ErrNumber},
		{"d negative", head + good + "x,-2,100\n", 3, listfile.ErrNumber},
		{"d missing, never the row above", head + good + "x,,100\n", 3, listfile.ErrNumber},
		{"d not finite", head + "x,NaN,100\n", 2, listfile.ErrNumber},
		{"intensity negative", head + "x,2,-1\n", 2, listfile.ErrNumber},
		{"intensity missing", head + "x,2,\n", 2, listfile.ErrNumber},
		{"intensity infinite", head + "x,2,Inf\n", 2, listfile.ErrNumber},
		{"all intensities zero", head + "x,2,0\n", 2, listfile.ErrNumber},
		{"phase missing", head + ",2,100\n", 2, nil},
		{"RIR zero", head + "x,2,100,,,,0\n", 2, listfile.ErrNumber},
		{"RIR negative", head + good + "y,2,100,,,,-1\n", 3, listfile.ErrNumber},
		{"RIR contradicts", head + good + "x,2,100,,,,1.6\n", 3, listfile.ErrConflict},
		{"cell contradicts", head + good + "x,2,100,,,,,,,,2.1\n", 3, listfile.ErrConflict},
		{"cell impossible", head + "x,2,100,,,,,,,,0.1\n", 2, nil},
		{"angle impossible", head + "x,2,100,,,,,,,,2,3,179\n", 2, nil},
		{"indices halfway", head + "x,2,100,1,,\n", 2, listfile.ErrIndices},
		{"indices zero", head + "x,2,100,0,0,0\n", 2, listfile.ErrIndices},
		{"indices broken", head + "x,2,100,1,0.5,0\n", 2, listfile.ErrIndices},
		{"indices misfit", head + "x,2,100,2,0,0,,,,,2\n", 2, listfile.ErrIndicesFit},
		{"origin", head + "x,2,100,,,,1.5,guessed\n", 2, listfile.ErrChoice},
		{"basis", head + "x,2,100,,,,1.5,,volume\n", 2, listfile.ErrChoice},
		{"soluble", head + "x,2,100,,,,,,,,,,,perhaps\n", 2, listfile.ErrChoice},
		{"radiation", "phase,d,intensity,radiation\nx,2,1,Xx\n", 2, xrd.ErrUnknownRadiation},
		{"monochromator", "phase,d,intensity,monochromator\nx,2,1,glass\n", 2, xrd.ErrUnknownMonochromator},
		{"quotation", head + "\"x,2,100\n", 2, nil},
		{"binary", "PK\x03\x04\x00\x00\x00", 0, nil},
	} {
		_, err := listfile.Read(strings.NewReader(c.text), "bad.csv")
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at, c.reason)
		assert.Equal(t, "bad.csv", at.File, c.reason)
		assert.Equal(t, c.line, at.Line, "%s: %v", c.reason, err)
		assert.NotEmpty(t, at.Fix, c.reason)
		if c.cause != nil {
			assert.ErrorIs(t, err, c.cause, c.reason)
		}
	}
	_, err := listfile.Read(strings.NewReader(head+good), "good.csv")
	assert.NoError(t, err)
	_, err = listfile.Read(failing{}, "gone.csv")
	assert.ErrorContains(t, err, "gone.csv")
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("device is gone") }

// The factors stand in PRACTICE as computed there for the change of a Cu value to Mo: Sn 200 (2.915 Å) ×0.93, quartz 101 (3.343 Å) ×0.91,
// talc 001 (9.35 Å) ×0.87, from the Lorentz-polarisation factor of the line over that of corundum 113.
func TestConversionBetweenRadiations(t *testing.T) {
	for _, c := range []struct {
		name, source string
		d, want      float64
	}{
		{"tin 200", "derived beforehand, two digits", 2.915, 0.93},
		{"quartz 101", "derived beforehand, two digits", 3.343, 0.91},
		{"talc 001", "derived beforehand, two digits", 9.35, 0.87},
	} {
		lists := read(t, fmt.Sprintf("phase,d,intensity,rir,rir_radiation\nx,%g,100,1,Cu\n", c.d))
		p, err := lists[0].Phase(beam(t, "Mo"))
		require.NoError(t, err)
		assert.InDelta(t, c.want, p.RIR.Value, 0.0051, "%s (%s)", c.name, c.source)
		require.Len(t, p.Cautions, 1)
		assert.Equal(t, "mixed-rir", p.Cautions[0].Code)
		assert.Equal(t, "Mo", p.RIR.Radiation)
		assert.Greater(t, p.RIR.RelU, 0.10)
	}
}

func TestConversionAndBack(t *testing.T) {
	there, err := read(t, silver)[0].Phase(beam(t, "Mo"))
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, listfile.Write(&out, []refdata.Phase{there}))
	back, err := read(t, out.String())[0].Phase(beam(t, "Cu"))
	require.NoError(t, err)
	want, err := read(t, silver)[0].Phase(beam(t, "Cu"))
	require.NoError(t, err)
	assert.InDelta(t, want.RIR.Value, back.RIR.Value, 1e-4)
	for i, line := range want.Lines {
		assert.InDelta(t, line.Intensity, back.Lines[i].Intensity, 1e-3)
	}
}

func TestRadiationAssumed(t *testing.T) {
	list := read(t, "phase,d,intensity\nx,2.0,100\nx,1.0,50\n")[0]
	p, err := list.Phase(beam(t, "Cu"))
	require.NoError(t, err)
	assert.Empty(t, p.Cautions)
	p, err = list.Phase(beam(t, "Co"))
	require.NoError(t, err)
	require.Len(t, p.Cautions, 1)
	assert.Equal(t, "radiation-assumed", p.Cautions[0].Code)
}

func TestRangeOfBeam(t *testing.T) {
	list := read(t, "phase,d,intensity\nx,2.0,60\nx,0.72,100\n")[0] // 0.72 Å: beyond Cu Kα1, which ends at 0.77 Å
	p, err := list.Phase(beam(t, "Cu"))
	require.NoError(t, err)
	require.Len(t, p.Lines, 1)
	assert.Equal(t, 100.0, p.Lines[0].Intensity)
	_, err = read(t, "phase,d,intensity\nx,1.1,100\n")[0].Phase(beam(t, "Cr"))
	assert.ErrorIs(t, err, listfile.ErrNoLines)
}

// Spacings in nm are no spacings of a crystal in Å.
func TestSpacingsInNanometres(t *testing.T) {
	_, err := listfile.Read(strings.NewReader("phase,d,intensity\nx,0.3248,100\nx,0.2487,46\n"), "nm.csv")
	require.ErrorIs(t, err, listfile.ErrNumber)
	assert.ErrorContains(t, err, "nm.csv:2:")
	assert.ErrorContains(t, err, "give d in Å; 1 nm is 10 Å")
}

func TestMonochromatorChangesIntensities(t *testing.T) {
	list := read(t, "phase,d,intensity,radiation\nx,3.0,100,Cu\nx,1.0895,100,Cu\n")[0] // 29.8° and 90.0°
	b := beam(t, "Cu")
	var err error
	b.Monochromator, err = xrd.ParseMonochromator("graphite", b.Radiation)
	require.NoError(t, err)
	p, err := list.Phase(b)
	require.NoError(t, err)
	// derived: polarisation (1 + A cos²2θ)/(1 + A), A = cos² 26.5°: at 90° 1/(1+A) instead of 1/2, at 29.8° (1+A·0.753)/(1+A) instead of 0.8765
	a := math.Pow(math.Cos(26.54*math.Pi/180), 2)
	c2 := math.Pow(math.Cos(xrd.Radians(p.Lines[0].TwoTheta)), 2)
	assert.InDelta(t, 2*(1+c2*a)/(1+c2)/2, 1/(p.Lines[1].Intensity/p.Lines[0].Intensity), 2e-3)
	assert.Empty(t, p.Cautions, "same radiation: the polarisation is known exactly")
}

func full(t testing.TB) refdata.Phase {
	b := beam(t, "Cu")
	var err error
	b.Monochromator, err = xrd.ParseMonochromator("graphite", b.Radiation)
	require.NoError(t, err)
	return refdata.Phase{
		ID: "cu6sn5-eta", Name: `Cu6Sn5 (η), "solder"`, Formula: "Cu6Sn5", SpaceGroup: "P 63/m m c",
		Cell: &refdata.Cell{A: 4.19, B: 4.19, C: 5.086, Alpha: 90, Beta: 90, Gamma: 120}, System: refdata.Hexagonal, Z: 0.4,
		Density: 8.268, DensityOrigin: "computed", MassAbsorption: 161.2345, Beam: b, SolidSolution: true, Preparation: "None; invented.",
		RIR:    refdata.RIR{Value: 7.654321, RelU: 0.05, Origin: "computed", Basis: "area", Radiation: "Cu"},
		Source: "invented,\nin two lines", Confidence: "high",
		Lines: []refdata.Line{
			{D: 2.959, TwoTheta: 30.1, Intensity: 62.25, Families: []refdata.Family{{H: 1, K: 0, L: 1, Multiplicity: 12, F2: 2345.678}}},
			{D: 2.0952, TwoTheta: 43.1, Intensity: 100, Families: []refdata.Family{{H: 1, K: 1, L: 0, Multiplicity: 6, F2: 99.5}, {H: 1, K: 0, L: 2, Multiplicity: 12}}},
			{D: 1.5, TwoTheta: 61.8, Intensity: 0.0004},
		},
	}
}

func TestRoundTrip(t *testing.T) {
	want := full(t)
	var first, second bytes.Buffer
	require.NoError(t, listfile.Write(&first, []refdata.Phase{want}))
	got, err := read(t, first.String())[0].Phase(want.Beam)
	require.NoError(t, err)
	require.NoError(t, listfile.Write(&second, []refdata.Phase{got}))
	assert.Equal(t, first.String(), second.String())
	for i := range want.Lines {
		assert.Equal(t, want.Lines[i].Families, got.Lines[i].Families)
		assert.InDelta(t, want.Lines[i].D, got.Lines[i].D, 5e-7)
		want.Lines[i], got.Lines[i] = refdata.Line{}, refdata.Line{}
	}
	want.Composition = got.Composition // of the formula
	assert.Equal(t, want, got)
}

func TestShortRangeKeepsTheRatio(t *testing.T) {
	b := beam(t, "Cu")
	b.MaxTwoTheta = 40
	list := read(t, "phase,d,intensity,rir\nx,2.9,50,4\nx,2.0,100,4\n")[0]
	p, err := list.Phase(b)
	require.NoError(t, err)
	require.Len(t, p.Lines, 1)
	assert.Equal(t, 50.0, p.Lines[0].Intensity, "of the strongest, which lies outside")
	assert.Equal(t, 4.0, p.RIR.Value)
	var out bytes.Buffer
	require.NoError(t, listfile.Write(&out, []refdata.Phase{p}))
	p, err = read(t, out.String())[0].Phase(b)
	require.NoError(t, err)
	assert.Equal(t, 100.0, p.Lines[0].Intensity)
	assert.Equal(t, 2.0, p.RIR.Value, "the same intensity a gram")
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(silver))
	f.Add([]byte("phase;two_theta;wavelength;intensity;colour\nx;60;1,5406;100;red\n"))
	f.Add([]byte("\xff\xfep\x00h\x00"))
	f.Add([]byte("phase,d,intensity,h,k,l,families\nx,2,100,1,1,1,5 1 1 24 3.5; 3 3 3\n"))
	f.Add([]byte("phase\td\tintensity\tradiation\tmonochromator\nx\t0,8\t1e15\t\"1.5406,1.5444\"\tperfect:27.3\n"))
	var out bytes.Buffer
	require.NoError(f, listfile.Write(&out, []refdata.Phase{full(f)}))
	f.Add(out.Bytes())
	cu := beam(f, "Cu")
	f.Fuzz(func(t *testing.T, in []byte) {
		lists, err := listfile.Read(bytes.NewReader(in), "fuzz.csv")
		if err != nil {
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			return
		}
		for _, list := range lists {
			phase, err := list.Phase(cu)
			if err != nil {
				continue
			}
			var first, second bytes.Buffer
			require.NoError(t, listfile.Write(&first, []refdata.Phase{phase}))
			again, err := listfile.Read(bytes.NewReader(first.Bytes()), "again.csv")
			require.NoError(t, err, "%s", first.String())
			phase, err = again[0].Phase(cu)
			require.NoError(t, err)
			require.NoError(t, listfile.Write(&second, []refdata.Phase{phase}))
			require.Equal(t, first.String(), second.String())
		}
	})
}

func BenchmarkRead(b *testing.B) {
	var text bytes.Buffer
	phases := make([]refdata.Phase, 100)
	for i := range phases {
		phases[i] = full(b)
		phases[i].Name, phases[i].ID = fmt.Sprintf("phase %d", i), fmt.Sprintf("phase-%d", i)
	}
	require.NoError(b, listfile.Write(&text, phases))
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if _, err := listfile.Read(bytes.NewReader(text.Bytes()), "bench.csv"); err != nil {
			b.Fatal(err)
		}
	}
}

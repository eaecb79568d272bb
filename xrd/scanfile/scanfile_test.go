package scanfile_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/scanfile"
)

// wantAngles and wantCounts are what every variant of the same scan must give.
var wantAngles, wantCounts = func() (a, c []float64) {
	for i := range 25 {
		a = append(a, float64(1000+2*i)/100)
		c = append(c, float64(150+7*i%11))
	}
	return a, c
}()

// lines formats the scan line by line; a %s verb takes the angle, a second one the counts.
func lines(format, decimal string) string {
	var b strings.Builder
	for i, a := range wantAngles {
		angle := strings.Replace(fmt.Sprintf("%.2f", a), ".", decimal, 1)
		fmt.Fprintf(&b, format, angle, fmt.Sprintf("%.0f", wantCounts[i]))
	}
	return b.String()
}

// wide encodes as UTF-16.
func wide(s string, big, mark bool) string {
	var b []byte
	units := utf16.Encode([]rune(s))
	if mark {
		units = append([]uint16{0xfeff}, units...)
	}
	for _, u := range units {
		if big {
			b = append(b, byte(u>>8), byte(u))
		} else {
			b = append(b, byte(u), byte(u>>8))
		}
	}
	return string(b)
}

func reversed(s string) string {
	l := strings.Split(strings.TrimSpace(s), "\n")
	for i, j := 0, len(l)-1; i < j; i, j = i+1, j-1 {
		l[i], l[j] = l[j], l[i]
	}
	return strings.Join(l, "\n")
}

func TestReadVariants(t *testing.T) {
	plain := lines("%s %s\n", ".")
	for name, text := range map[string]string{
		"spaces":                          plain,
		"aligned":                         lines("   %s       %s\n", "."),
		"tabs":                            lines("%s\t%s\n", "."),
		"commas":                          lines("%s,%s\n", "."),
		"comma and space":                 lines("%s, %s\n", "."),
		"space and comma":                 lines("%s ,%s\n", "."),
		"semicolons":                      lines("%s;%s\n", "."),
		"trailing separators":             lines("%s;%s;;\n", "."),
		"decimal comma, semicolon":        lines("%s;%s\n", ","),
		"decimal comma, tab":              lines("%s\t%s\n", ","),
		"decimal comma, space":            lines("%s  %s\n", ","),
		"decimal comma, comma and space":  lines("%s, %s\n", ","),
		"decimal comma, quoted":           lines("\"%s\",\"%s\"\n", ","),
		"exponents":                       lines("%s %se+00\n", "."),
		"CRLF":                            lines("%s %s\r\n", "."),
		"CR":                              lines("%s %s\r", "."),
		"no last line end":                strings.TrimSpace(plain),
		"BOM":                             "\ufeff" + plain,
		"UTF-16 LE":                       wide(plain, false, true),
		"UTF-16 BE":                       wide(plain, true, true),
		"UTF-16 LE without mark":          wide(plain, false, false),
		"UTF-16 BE without mark":          wide(plain, true, false),
		"descending":                      reversed(plain),
		"header":                          "2theta intensity\n25 C, fast\n\n" + plain,
		"comments":                        "# simulated, invented composition; radiation Cu\n! x\n% y\n// z\n* w\n' v\n; u\n" + plain + "# end\n",
		"unknown keys":                    "# note: radiation: none\n# operator:\n" + plain,
		"Windows-1252":                    "# angle in \xb0 2\xe8\n" + plain,
		"DOS end of file":                 plain + "\x1a",
		"blank lines":                     strings.ReplaceAll(plain, "\n", "\n \n"),
		"plus signs":                      lines("+%s +%s\n", "."),
		"header that begins with numbers": "10 points a second\n" + plain,
	} {
		t.Run(name, func(t *testing.T) {
			scan, err := scanfile.Read(strings.NewReader(text), "scan.xy")
			require.NoError(t, err)
			assert.Equal(t, wantAngles, scan.TwoTheta)
			assert.Equal(t, wantCounts, scan.Intensity)
			assert.Nil(t, scan.Sigma)
			assert.Nil(t, scan.About.Radiation)
		})
	}
}

func TestReadThirdColumnIsUncertainty(t *testing.T) {
	for _, sep := range []string{" ", "\t", ",", ";"} {
		scan, err := scanfile.Read(strings.NewReader(lines("%s"+sep+"%s"+sep+"3.5\n", ".")), "scan.xye")
		require.NoError(t, err)
		assert.Len(t, scan.Sigma, len(wantAngles))
		assert.Equal(t, 3.5, scan.Sigma[3])
		assert.False(t, scan.Counts())
	}
}

func TestReadNegativeIntensity(t *testing.T) {
	text := lines("%s -%s.5\n", ".")
	cut := strings.Index(text, "\n") + 1
	scan, err := scanfile.Read(strings.NewReader(text[:cut]+strings.ReplaceAll(text[cut:], " -", " ")), "net.xy") // the first alone
	require.NoError(t, err)
	assert.Equal(t, -150.5, scan.Intensity[0])
	assert.False(t, scan.Counts())
}

func TestReadKeys(t *testing.T) {
	text := `# sample: bushing 7: aged
# Radiation: Cu
# wavelength: 1.5406, 1.5444
# monochromator: graphite
# slit: fixed:1.0
# radius_mm: 217,5
# specimen_length_mm: 12
# counting_time_s: 1.5
# section: Transverse
# mount: epoxy
` + lines("%s %s\n", ".")
	scan, err := scanfile.Read(strings.NewReader(text), "scan.xy")
	require.NoError(t, err)
	a := scan.About
	assert.Equal(t, "bushing 7: aged", a.Sample)
	assert.Equal(t, xrd.Radiation{Name: "Cu", KAlpha1: 1.5406, KAlpha2: 1.5444, KBeta: 1.39223398, Ratio: 0.5}, *a.Radiation)
	assert.Equal(t, "graphite", a.Monochromator)
	assert.Equal(t, xrd.Slit{Mode: xrd.SlitFixed, Value: 1}, *a.Slit)
	assert.Equal(t, []float64{217.5, 12, 1.5}, []float64{a.Radius, a.SpecimenLength, a.CountingTime})
	assert.Equal(t, "transverse", a.Section)
	assert.Equal(t, "epoxy", a.Mount)
	requireRoundTrip(t, scan)
}

func TestReadWavelengthAlone(t *testing.T) {
	for value, want := range map[string]xrd.Radiation{
		"1.5406":        {Name: "1.5406", KAlpha1: 1.5406},
		"0.7093,0.7136": {Name: "0.7093,0.7136", KAlpha1: 0.7093, KAlpha2: 0.7136, Ratio: 0.5},
	} {
		scan, err := scanfile.Read(strings.NewReader("# wavelength: "+value+"\n"+lines("%s %s\n", ".")), "scan.xy")
		require.NoError(t, err)
		assert.Equal(t, want, *scan.About.Radiation)
		requireRoundTrip(t, scan)
	}
}

func TestReadRefuses(t *testing.T) {
	good := lines("%s %s\n", ".")
	few := strings.Join(strings.SplitAfter(good, "\n")[:19], "")
	for name, c := range map[string]struct {
		text string
		line int
		err  error
	}{
		"empty":                        {"", 0, scanfile.ErrNoData},
		"only comments":                {"# nothing\n", 0, scanfile.ErrNoData},
		"prose":                        {"Dear all,\nhere is the scan.\n", 0, scanfile.ErrNoData},
		"one column":                   {"# c\n10\n11\n", 2, scanfile.ErrFewColumns},
		"four columns":                 {"10 1 2 3\n", 1, scanfile.ErrManyColumns},
		"columns change":               {"10 1\n11 1 1\n", 2, scanfile.ErrManyColumns},
		"text among data":              {good + "11 abc\n", 26, scanfile.ErrNumber},
		"missing value":                {good + "11;;2\n", 26, scanfile.ErrNumber},
		"hexadecimal":                  {good + "11 0x1p3\n", 26, scanfile.ErrNumber},
		"NaN":                          {good + "11 NaN\n", 26, xrd.ErrNotFinite},
		"NaN first":                    {"nan 3\n" + good, 1, xrd.ErrNotFinite},
		"Inf":                          {good + "11 -Inf\n", 26, xrd.ErrNotFinite},
		"too large a number":           {good + "11 1e400\n", 26, scanfile.ErrNumber},
		"absurd number":                {good + "11 1e300\n", 26, scanfile.ErrNumber},
		"repeated angle":               {good + "10.48 3\n", 26, xrd.ErrNotAscending},
		"repeated at once":             {"10 3\n10 3\n", 2, xrd.ErrNotAscending},
		"turns back":                   {good + "9 3\n", 26, xrd.ErrNotAscending},
		"descending turns back":        {reversed(good) + "\n12 3\n", 26, xrd.ErrNotAscending},
		"decimal comma alone":          {"10,00\n10,02\n", 2, xrd.ErrNotAscending},
		"thousands separators":         {good + "11.0 1,234\n", 26, scanfile.ErrMixedDecimal},
		"negative angle":               {"-1 3\n", 1, xrd.ErrAngleRange},
		"angle above 180":              {good + "190 3\n", 26, xrd.ErrAngleRange},
		"zero uncertainty":             {"10 0 0\n", 1, xrd.ErrBadUncertain},
		"19 points":                    {few, 0, xrd.ErrTooFewPoints},
		"all zero":                     {lines("%s 0 \n# %s\n", "."), 0, xrd.ErrNoIntensity},
		"binary":                       {"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", 0, scanfile.ErrBinary},
		"zero bytes":                   {strings.Repeat("\x00", 9000), 0, scanfile.ErrBinary},
		"zero byte later":              {strings.Repeat(good, 1) + strings.Repeat("# padding\n", 1000) + "11 3\x00\n", 1026, scanfile.ErrBinary},
		"endless line":                 {strings.Repeat("1", scanfile.MaxLine+10), 1, scanfile.ErrTooLarge},
		"unknown radiation":            {"# x\n# radiation: Pu\n" + good, 2, xrd.ErrUnknownRadiation},
		"a name as wavelength":         {"# wavelength: Cu\n" + good, 1, xrd.ErrUnknownRadiation},
		"wavelength of another":        {"# radiation: Cu\n# wavelength: 1.789\n" + good, 2, scanfile.ErrKey},
		"wavelength of another, first": {"# wavelength: 1.789\n# radiation: Cu\n" + good, 2, scanfile.ErrKey},
		"unknown geometry":             {"# geometry: round\n" + good, 1, xrd.ErrUnknownGeometry},
		"unknown slit":                 {"# slit: 1\n" + good, 1, xrd.ErrUnknownSlit},
		"unknown monochromator":        {"# monochromator: glass\n" + good, 1, xrd.ErrUnknownMonochromator},
		"unknown section":              {"# section: oblique\n" + good, 1, scanfile.ErrKey},
		"negative radius":              {"# radius_mm: -3\n" + good, 1, scanfile.ErrKey},
		"radius NaN":                   {"# radius_mm: NaN\n" + good, 1, scanfile.ErrKey},
		"key given twice":              {"# mount: a\n# mount: b\n" + good, 2, scanfile.ErrKey},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := scanfile.Read(strings.NewReader(c.text), "bad.xy")
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			assert.ErrorIs(t, err, c.err)
			assert.Equal(t, c.line, at.Line)
			assert.Equal(t, "bad.xy", at.File)
			assert.NotEqual(t, "check that the file can be read", at.Fix, "no advice for %v", err)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

// endless repeats a line for ever and counts what was taken of it.
type endless struct {
	text  string
	taken int
}

func (e *endless) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		m := copy(p[n:], e.text[(e.taken+n)%len(e.text):])
		n += m
	}
	e.taken += n
	return n, nil
}

func TestReadStopsEarly(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		limit int
	}{
		"zero bytes":        {strings.Repeat("\x00", 999), 1 << 16},
		"zeros":             {"0", 1 << 20},
		"lines of zeros":    {"0 0\n", 1 << 16},
		"wide zero bytes":   {"\xff\xfe\x00\x00", 1 << 20},
		"lines of one zero": {"0\n", 1 << 16},
		"comments":          {"# " + strings.Repeat("0", 500) + "\n", scanfile.MaxBytes + 1<<16},
	} {
		source := &endless{text: c.text}
		_, err := scanfile.Read(source, "huge.xy")
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at, name)
		assert.LessOrEqual(t, source.taken, c.limit, name)
	}
}

func TestReadTooManyPoints(t *testing.T) {
	r, w := io.Pipe()
	go func() {
		for i := range scanfile.MaxPoints + 1 {
			if _, err := fmt.Fprintf(w, "%.5f 1\n", float64(i)*1e-4); err != nil {
				return
			}
		}
		w.Close()
	}()
	_, err := scanfile.Read(r, "long.xy")
	require.ErrorIs(t, err, scanfile.ErrTooLarge)
	r.Close()
}

func TestReadReportsReaderTrouble(t *testing.T) {
	broken := errors.New("cable pulled")
	for _, r := range []io.Reader{errReader{broken}, io.MultiReader(strings.NewReader(lines("%s %s\n", ".")), errReader{broken})} {
		_, err := scanfile.Read(r, "scan.xy")
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at)
		assert.ErrorIs(t, err, broken)
	}
}

type errReader struct{ err error }

func (e errReader) Read([]byte) (int, error) { return 0, e.err }

// requireRoundTrip writes and reads again.
func requireRoundTrip(t *testing.T, scan xrd.Scan) {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, scanfile.Write(&out, scan))
	again, err := scanfile.Read(&out, "again.xy")
	require.NoError(t, err)
	scan.About.Slips = nil // of the text that was read; it is not written
	require.Equal(t, scan, again)
}

func TestWriteReportsTrouble(t *testing.T) {
	scan, err := scanfile.Read(strings.NewReader(lines("%s %s\n", ".")), "scan.xy")
	require.NoError(t, err)
	assert.ErrorIs(t, scanfile.Write(shut{}, scan), os.ErrClosed)
}

type shut struct{}

func (shut) Write([]byte) (int, error) { return 0, os.ErrClosed }

func TestReadSharedScans(t *testing.T) {
	files, _ := filepath.Glob("../../../shared/data/*/*.[px]*")
	if len(files) == 0 {
		t.Skip("SKIPPED: the shared measured and simulated scans (../shared/data) are not here")
	}
	for _, name := range files {
		raw, err := os.ReadFile(name)
		require.NoError(t, err)
		scan, err := scanfile.Read(bytes.NewReader(raw), filepath.Base(name))
		require.NoError(t, err)
		rescaled := filepath.Base(name) == "26.xy" // says the README beside it
		assert.Equal(t, !rescaled, scan.Counts(), name)
		assert.True(t, scan.EvenSteps(), name)
		requireRoundTrip(t, scan)
	}
}

func FuzzRead(f *testing.F) {
	good := lines("%s %s\n", ".")
	f.Add([]byte(good))
	f.Add([]byte("# radiation: Cu\n# wavelength: 1.5406,1.5444\n# slit: automatic:10\n# sample: a  b\n" + reversed(good)))
	f.Add([]byte(lines("\"%s\",\"%s\"\n", ",")))
	f.Add([]byte(lines("%s;%s;2,5\r\n", ",")))
	f.Add([]byte(wide("# mount: r\u00e9sine\n"+good, false, true)))
	f.Add([]byte("\x00\x01\x02"))
	f.Add([]byte(cifScan("_diffrn_radiation_wavelength 1.5406", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f(3)")))
	f.Add([]byte("# wavelength: 0.7093\n# radius_mm: 1e3\n# mount: \xe9\x81\n" + good))
	f.Fuzz(func(t *testing.T, in []byte) {
		scan, err := scanfile.Read(bytes.NewReader(in), "fuzz.xy")
		if err != nil {
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			return
		}
		requireRoundTrip(t, scan)
	})
}

func BenchmarkRead(b *testing.B) {
	var text bytes.Buffer
	for i := range 7251 {
		fmt.Fprintf(&text, "%.3f %d\n", 5+0.02*float64(i), 100+i%37)
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if _, err := scanfile.Read(bytes.NewReader(text.Bytes()), "scan.xy"); err != nil {
			b.Fatal(err)
		}
	}
}

func ExampleRead() {
	var text strings.Builder
	text.WriteString("# sample: bushing, invented\n# radiation: Cu\n2theta;counts\n")
	for i := range 25 {
		fmt.Fprintf(&text, "%d,%02d;%d\n", 43, 2*i, 100+i)
	}
	scan, err := scanfile.Read(strings.NewReader(text.String()), "bushing.csv")
	fmt.Println(scan.About.Sample, scan.Len(), scan.TwoTheta[1], err)
	_, err = scanfile.Read(strings.NewReader("10.00 5\n10.02 abc\n"), "bushing.xy")
	fmt.Println(err)
	// Output:
	// bushing, invented 25 43.02 <nil>
	// bushing.xy:2: "abc": not a number; correct the value, or begin the line with #
}

// A few negative values are what subtraction leaves; a scan that is mostly negative is refused at the first of them.
func TestMostlyNegative(t *testing.T) {
	for _, c := range []struct {
		every int // one value in so many is negative
		ok    bool
	}{{10, true}, {3, true}, {1, false}} {
		var text strings.Builder
		text.WriteString("# sample: x\n")
		for i := range 60 {
			y := 5
			if i%c.every == 0 {
				y = -5
			}
			fmt.Fprintf(&text, "%.2f %d\n", 20+0.02*float64(i), y)
		}
		_, err := scanfile.Read(strings.NewReader(text.String()), "x.xy")
		if c.ok {
			require.NoError(t, err, c.every)
			continue
		}
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at)
		require.ErrorIs(t, err, scanfile.ErrNegative)
		require.Equal(t, 2, at.Line)
	}
}

// A key that is a slip of a known one is noted with its line; free remarks are not, and what a slip says is not used.
func TestMisspeltKeys(t *testing.T) {
	var rows strings.Builder
	for i := range 30 {
		fmt.Fprintf(&rows, "%g %d\n", 20+0.02*float64(i), 100+i)
	}
	for line, like := range map[string]string{
		"# radiaton: Cu": "radiation", "# Radition: Co": "radiation", "# wavelenght: 1.5406": "wavelength", "# silt: fixed:1": "slit", "# radius: 185": "radius_mm",
		"# Specimen-length (mm): 10": "specimen_length_mm", "# counting time: 2": "counting_time_s", "# monochromater: graphite": "monochromator",
		"# operator: the night shift": "", "# date: today": "", "# step: 0.02": "", "# remark: radiation was on": "", "# radiaton Cu": "", "# radiaton:": "", "# tin: much": "",
	} {
		scan, err := scanfile.Read(strings.NewReader("# sample: x\n"+line+"\n"+rows.String()), "a.xy")
		require.NoError(t, err, line)
		assert.Nil(t, scan.About.Radiation, line)
		assert.Nil(t, scan.About.Slit, line)
		if like == "" {
			assert.Empty(t, scan.About.Slips, line)
			continue
		}
		require.Len(t, scan.About.Slips, 1, line)
		assert.Equal(t, 2, scan.About.Slips[0].Line, line)
		assert.Equal(t, like, scan.About.Slips[0].Like, line)
	}
}

// A first line with separators of thousands is data, not a header, and must not vanish.
func TestThousandsAreNoHeader(t *testing.T) {
	var rows strings.Builder
	for i := range 30 {
		fmt.Fprintf(&rows, "%.2f;%d.5\n", 20.5+0.5*float64(i), 100+i)
	}
	for _, first := range []string{"20.0;1,234.5", "20.0;1.234,5", "20.0;1'234.5", "20.0;1,234,567.0;3.5"} {
		_, err := scanfile.Read(strings.NewReader(first+"\n"+rows.String()), "a.csv")
		require.ErrorIs(t, err, scanfile.ErrMixedDecimal, first)
		assert.ErrorContains(t, err, "a.csv:1:")
	}
	for _, first := range []string{"angle;counts", "2theta;1,234.5", "12.03.2024;10", "2024;1.2.3", "20.0;counts"} {
		_, err := scanfile.Read(strings.NewReader(first+"\n"+rows.String()), "a.csv")
		require.NoError(t, err, first)
	}
}

// A name goes into pages and onto terminals: what steers them is left out of it.
func TestNamesDoNotSteer(t *testing.T) {
	scan, err := scanfile.Read(strings.NewReader("# sample: a\x1b[31mb\x07 \u202ec\u0085d, قطعة\n"+strings.Join(twenty(), "\n")), "a.xy")
	require.NoError(t, err)
	assert.Equal(t, "a[31mb cd, قطعة", scan.About.Sample)
}

func twenty() (rows []string) {
	for i := range 20 {
		rows = append(rows, fmt.Sprintf("%d %d", 20+i, 5+i))
	}
	return rows
}

// Rows of separators alone, as spreadsheets leave below a table, are empty lines.
func TestEmptyRows(t *testing.T) {
	var b strings.Builder
	for i := range 30 {
		fmt.Fprintf(&b, "%.2f,%d\n", 20+0.02*float64(i), 100+i)
	}
	want, err := scanfile.Read(strings.NewReader(b.String()), "plain.csv")
	require.NoError(t, err)
	for _, tail := range []string{",\n", ",,,\n,,,\n", " , \n", ";;\n", "\t\t\n", "\n\n"} {
		got, err := scanfile.Read(strings.NewReader(b.String()+tail), "plain.csv")
		require.NoError(t, err, "%q", tail)
		assert.Equal(t, want, got, "%q", tail)
	}
}

// What is written is read back: any scan, to the last digit that is written, with all that it says of itself.
func TestAnyScanSurvivesTheFile(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for range 200 {
		n := 20 + r.IntN(200)
		at, x, y := 5+50*r.Float64(), make([]float64, n), make([]float64, n)
		for i := range x {
			at += 0.005 + 0.3*r.Float64()*r.Float64()
			x[i], y[i] = math.Round(at*1e4)/1e4, float64(r.IntN(1+r.IntN(1_000_000)))
		}
		y[r.IntN(n)] = 7 // not all zero
		scan, err := xrd.NewScan(x, y, nil, xrd.ScanInfo{Sample: fmt.Sprintf("piece %d", r.IntN(99)), Radius: float64(100 + r.IntN(200)), CountingTime: float64(1 + r.IntN(9))})
		require.NoError(t, err)
		var b bytes.Buffer
		require.NoError(t, scanfile.Write(&b, scan))
		got, err := scanfile.Read(&b, "any.xy")
		require.NoError(t, err)
		require.Equal(t, scan.TwoTheta, got.TwoTheta)
		require.Equal(t, scan.Intensity, got.Intensity)
		require.Equal(t, []any{scan.About.Sample, scan.About.Radius, scan.About.CountingTime}, []any{got.About.Sample, got.About.Radius, got.About.CountingTime})
	}
}

// Columns that are no intensities and no uncertainties: a number, a spacing or a time goes one way from line to line, and nothing would
// be seen where the uncertainties are above the highest intensity.
func TestColumnsOfOtherThings(t *testing.T) {
	counts := func(i int) float64 { return float64(100 + i*7919%23) }
	for name, c := range map[string]struct {
		columns func(i int) []float64
		want    error
	}{
		"angle, time, counts":    {func(i int) []float64 { return []float64{2.5 * float64(i), counts(i)} }, scanfile.ErrOneWay},
		"angle, spacing, counts": {func(i int) []float64 { return []float64{20 - 0.01*float64(i), counts(i)} }, scanfile.ErrOneWay},
		"angle, counts, spacing": {func(i int) []float64 { return []float64{counts(i), 20 - 0.01*float64(i)} }, scanfile.ErrOneWay},
		"angle, counts, monitor": {func(i int) []float64 { return []float64{counts(i), 10 * counts(i+5)} }, scanfile.ErrDrowned},
		"counts with their root": {func(i int) []float64 { return []float64{counts(i), math.Sqrt(counts(i))} }, nil},
		"one uncertainty":        {func(i int) []float64 { return []float64{counts(i), 10} }, nil},
		"ramp with one dip":      {func(i int) []float64 { return []float64{float64(i) - 3*float64(i%100/99)} }, nil},
	} {
		var text strings.Builder
		for i := range 150 {
			fmt.Fprintf(&text, "%.2f", 10+0.02*float64(i))
			for _, v := range c.columns(i) {
				fmt.Fprintf(&text, " %g", v)
			}
			text.WriteByte('\n')
		}
		_, err := scanfile.Read(strings.NewReader(text.String()), "x.xy")
		assert.ErrorIs(t, err, c.want, name)
	}
	_, err := scanfile.Read(strings.NewReader("# made by hand\n2,0D+01 1.0D+02\n"), "x.xy")
	assert.ErrorContains(t, err, `the first line is "2,0D+01 1.0D+02"`)
}

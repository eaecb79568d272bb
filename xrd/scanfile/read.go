package scanfile

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"phasetally/xrd"
)

// The limits of a scan file; whatever lies beyond is refused before it takes memory.
const (
	MaxPoints = 1 << 20   // points
	MaxBytes  = 128 << 20 // bytes of the file
	MaxLine   = 1 << 16   // bytes of a line
)

// Errors of Read beside those of xrd.NewScan; test with errors.Is.
var (
	ErrNoData       = errors.New("no line with an angle and an intensity")
	ErrFewColumns   = errors.New("expected angle and intensity")
	ErrManyColumns  = errors.New("expected two or three columns")
	ErrNumber       = errors.New("not a number")
	ErrMixedDecimal = errors.New("decimal points and commas are mixed")
	ErrBinary       = errors.New("not a text file")
	ErrTooLarge     = errors.New("too large for a scan")
	ErrKey          = errors.New("bad value")
	ErrNegative     = errors.New("most intensities are negative")
	ErrStructure    = errors.New("a crystal structure, not a scan")
	ErrOneWay       = errors.New("goes one way from the first line to the last, as an angle, a spacing or a time does")
	ErrDrowned      = errors.New("half of the uncertainties are above the highest intensity")
)

// maxIntensity is far above what any detector counts and far below where squares overflow.
const maxIntensity = 1e15

// Read reads a scan as text or powder CIF; name appears in errors. Every error is an *xrd.SyntaxError.
// Descending scans are turned round. Some negative intensities are accepted, since background-subtracted exports have
// them; a scan that is mostly negative is ErrNegative.
func Read(r io.Reader, name string) (xrd.Scan, error) {
	limited := &io.LimitedReader{R: r, N: MaxBytes + 1}
	text, err := decoded(limited)
	if err != nil {
		return xrd.Scan{}, &xrd.SyntaxError{File: name, Err: err, Fix: advice(err)}
	}
	f := &file{name: name, limited: limited}
	if isCIF(text) {
		return f.readCIF(text)
	}
	return f.readText(text)
}

// A file is one scan in the making.
type file struct {
	name    string
	limited *io.LimitedReader
	line    int
	columns [3][]float64
	width   int    // columns of the first data line
	first   string // line that is neither empty nor a remark
	below   int    // intensities below 0
	sunk    int    // line of the first of them
	point   bool   // a number had a decimal point
	comma   bool   // a number had a decimal comma
	keys    map[string]string
	about   xrd.ScanInfo
}

// fail locates an error at the current line.
func (f *file) fail(err error) error {
	return &xrd.SyntaxError{File: f.name, Line: f.line, Err: err, Fix: advice(err)}
}

// readText reads lines until the end.
func (f *file) readText(text io.Reader) (xrd.Scan, error) {
	lines := bufio.NewScanner(text)
	lines.Buffer(make([]byte, 0, 4096), MaxLine)
	lines.Split(splitLines)
	for lines.Scan() {
		f.line++
		if err := f.readLine(lines.Text()); err != nil {
			return xrd.Scan{}, f.fail(err)
		}
	}
	f.line++
	if err := lines.Err(); err != nil {
		if errors.Is(err, bufio.ErrTooLong) {
			err = fmt.Errorf("%w: a line of more than %d bytes", ErrTooLarge, MaxLine)
		}
		return xrd.Scan{}, f.fail(err)
	}
	if f.limited.N <= 0 {
		return xrd.Scan{}, f.fail(fmt.Errorf("%w: more than %d MB", ErrTooLarge, MaxBytes>>20))
	}
	f.line = 0
	return f.finish()
}

// readLine sorts a line into comment, header and data.
func (f *file) readLine(line string) error {
	line = strings.TrimSpace(strings.TrimRight(line, "\x1a")) // some exports end with the DOS end-of-file mark
	if strings.ContainsRune(line, 0) {
		return ErrBinary
	}
	if strings.Trim(line, ",; \t") == "" { // empty, or as a spreadsheet leaves rows below a table
		return nil
	}
	if body, ok := comment(line); ok {
		return f.readKey(body)
	}
	if f.first == "" {
		f.first = line
	}
	fields := splitColumns(line)
	if f.width == 0 && !numeric(fields) {
		if separated(fields) {
			return ErrMixedDecimal
		}
		return nil // a header
	}
	values, err := f.numbers(fields)
	if err != nil {
		return err
	}
	return f.add(values)
}

// add appends a data line of two or three numbers.
func (f *file) add(v []float64) error {
	if f.width == 0 {
		f.width = len(v)
	}
	n := len(f.columns[0])
	switch {
	case len(v) < 2:
		return ErrFewColumns
	case len(v) > 3:
		return fmt.Errorf("%w, found %d", ErrManyColumns, len(v))
	case len(v) != f.width:
		return fmt.Errorf("%w: %d here, %d before", ErrManyColumns, len(v), f.width)
	case n == MaxPoints:
		return fmt.Errorf("%w: more than %d points", ErrTooLarge, MaxPoints)
	case !(v[0] >= 0 && v[0] <= 180):
		return fmt.Errorf("%w: %g", xrd.ErrAngleRange, v[0])
	case !(math.Abs(v[1]) <= maxIntensity):
		return fmt.Errorf("intensity %g: %w", v[1], ErrNumber)
	case len(v) == 3 && !(v[2] > 0 && v[2] <= maxIntensity):
		return fmt.Errorf("%w: %g", xrd.ErrBadUncertain, v[2])
	case n > 0 && !f.onwards(v[0]):
		return fmt.Errorf("%w: %g after %g", xrd.ErrNotAscending, v[0], f.columns[0][n-1])
	}
	for i, x := range v {
		f.columns[i] = append(f.columns[i], x)
	}
	if v[1] < 0 {
		if f.below++; f.below == 1 {
			f.sunk = f.line
		}
	}
	return nil
}

// onwards reports whether an angle goes on in the direction of the first two.
func (f *file) onwards(angle float64) bool {
	t := f.columns[0]
	if last := t[len(t)-1]; len(t) > 1 && t[1] < t[0] {
		return angle < last
	} else if len(t) > 1 {
		return angle > last
	}
	return angle != t[0]
}

// finish turns the columns into a scan.
func (f *file) finish() (xrd.Scan, error) {
	if err := f.checkColumns(); err != nil {
		return xrd.Scan{}, f.fail(err)
	}
	if f.below > len(f.columns[0])/2 {
		f.line = f.sunk
		return xrd.Scan{}, f.fail(ErrNegative)
	}
	if t := f.columns[0]; len(t) > 1 && t[1] < t[0] {
		for _, c := range f.columns {
			slices.Reverse(c)
		}
	}
	scan, err := xrd.NewScan(f.columns[0], f.columns[1], f.columns[2], f.about)
	if err != nil {
		return xrd.Scan{}, f.fail(err)
	}
	return scan, nil
}

// checkColumns refuses what cannot be intensities, or uncertainties of them.
func (f *file) checkColumns() error {
	switch {
	case len(f.columns[0]) == 0 && f.first != "":
		return fmt.Errorf("%w (the first line is %q)", ErrNoData, short(f.first))
	case len(f.columns[0]) == 0:
		return ErrNoData
	case len(f.columns[0]) < xrd.MinPoints: // is told as such
		return nil
	case oneWay(f.columns[1]):
		return fmt.Errorf("the second column %w", ErrOneWay)
	case oneWay(f.columns[2]):
		return fmt.Errorf("the third column %w", ErrOneWay)
	}
	highest, above := slices.Max(f.columns[1]), 0
	for _, u := range f.columns[2] {
		if u > highest {
			above++
		}
	}
	if 2*above > len(f.columns[0]) {
		return ErrDrowned
	}
	return nil
}

// longRun is how many numbers in a row go one way that are no slope of a peak.
const longRun = 100

// oneWay reports whether every number is above the one before, or every one below: counts rise and fall.
func oneWay(column []float64) bool {
	up := len(column) >= longRun
	down := up
	for i := 1; i < len(column) && (up || down); i++ {
		up, down = up && column[i] > column[i-1], down && column[i] < column[i-1]
	}
	return up || down
}

// advices say what to do about an error.
var advices = []struct {
	err error
	fix string
}{
	{errProbe, "only X-ray scans are read"},
	{ErrNoData, "export the scan as text with two columns, angle and intensity"},
	{ErrStructure, "give it with --library, beside a scan"},
	{ErrFewColumns, "give two columns, or begin the line with #"},
	{ErrManyColumns, "keep angle, intensity and at most its standard uncertainty"},
	{ErrNumber, "correct the value, or begin the line with #"},
	{xrd.ErrNotFinite, "remove the point"},
	{ErrMixedDecimal, "use one decimal sign and no thousands separators"},
	{ErrBinary, "export the scan as text"},
	{ErrTooLarge, "check that this is a scan, and cut it into parts"},
	{xrd.ErrAngleRange, "the first column must be degrees 2θ"},
	{xrd.ErrBadUncertain, "the third column must be the standard uncertainty of the intensity; remove it if it is not"},
	{xrd.ErrSecondCurve, "the third column must be the standard uncertainty of the intensity; remove it"},
	{ErrOneWay, "keep angle, intensity and at most its standard uncertainty, in this order"},
	{ErrDrowned, "the third column must be the standard uncertainty of the intensity; remove it if it is not"},
	{ErrNegative, "export the intensities as measured, without subtraction; check that the second column is the intensity"},
	{ErrKey, "correct the value, or remove the line"},
	{xrd.ErrNotAscending, "each angle may appear once and in order (a decimal comma needs semicolons, tabs or spaces between columns); merge or cut repeated ranges"},
	{xrd.ErrTooFewPoints, "scan a longer range or in finer steps"},
	{xrd.ErrNoIntensity, "check the export and the shutter"},
}

// advice finds what to do about an error.
func advice(err error) string {
	for _, a := range advices {
		if errors.Is(err, a.err) {
			return a.fix
		}
	}
	return "check that the file can be read"
}

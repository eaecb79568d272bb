package structure

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// An Operator is a symmetry operator: x' = R x + T, with R row-major and T from 0 to 1.
type Operator struct {
	R [9]int     // rotation part
	T [3]float64 // translation part
}

var identity = Operator{R: [9]int{1, 0, 0, 0, 1, 0, 0, 0, 1}}

// ErrOperator says that a text is no symmetry operator; test with errors.Is.
var ErrOperator = errors.New("not a symmetry operator")

// ParseOperator reads an operator such as "-y,x-y,z+1/2", "1/2+x, .25-y, Z". Translations within 0.002 of a multiple of 1/24 are that
// multiple, so that .3333 is one third. It returns ErrOperator for anything else.
func ParseOperator(s string) (Operator, error) {
	if len(s) > 200 {
		return Operator{}, fmt.Errorf("%w: too long", ErrOperator)
	}
	parts := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ',' || r == ';' })
	if len(parts) != 3 {
		return Operator{}, fmt.Errorf("%w: %q has %d parts, not 3", ErrOperator, s, len(parts))
	}
	var op Operator
	for i, part := range parts {
		row, shift, err := parseRow(part)
		if err != nil {
			return Operator{}, fmt.Errorf("%w: %q: %w", ErrOperator, s, err)
		}
		copy(op.R[3*i:], row[:])
		op.T[i] = wrap(snap(shift))
	}
	if d := determinant(op.R); d != 1 && d != -1 {
		return Operator{}, fmt.Errorf("%w: %q changes volumes", ErrOperator, s)
	}
	return op, nil
}

// parseRow reads one part: signed terms that are a letter, a number, or a number times a letter.
func parseRow(s string) (row [3]int, shift float64, err error) {
	s = strings.NewReplacer(" ", "", "\t", "", "*", "", "_", "").Replace(s)
	if s == "" {
		return row, 0, errors.New("empty part")
	}
	for s != "" {
		sign := 1.0
		if s[0] == '-' {
			sign = -1
		}
		s = strings.TrimLeft(s[:1], "+-") + s[1:]
		n := len(s)
		if i := strings.IndexAny(s, "+-"); i >= 0 {
			n = i
		}
		axis, size, err := parseTerm(s[:n])
		switch s = s[n:]; {
		case err != nil:
			return row, 0, err
		case axis < 0:
			shift += sign * size
		case size != math.Trunc(size) || size > 3:
			return row, 0, fmt.Errorf("coefficient %g", size)
		default:
			row[axis] += int(sign * size)
		}
	}
	if math.Abs(shift) > 100 {
		return row, 0, fmt.Errorf("translation %g", shift)
	}
	for _, sum := range row {
		if sum > 3 || sum < -3 { // several terms of one axis add up
			return row, 0, fmt.Errorf("coefficient %d", sum)
		}
	}
	return row, shift, nil
}

// parseTerm reads a term without its sign; axis is −1 for a number alone.
func parseTerm(term string) (axis int, size float64, err error) {
	axis = -1
	for i, letter := range []string{"x", "y", "z"} {
		if t, ok := strings.CutSuffix(term, letter); ok {
			term, axis = t, i
			break
		}
	}
	if term == "" && axis >= 0 {
		return axis, 1, nil
	}
	size, err = fraction(term)
	return axis, size, err
}

// fraction reads "1/2" or ".5".
func fraction(s string) (float64, error) {
	over, under, has := strings.Cut(s, "/")
	value, err := unsigned(over)
	if err != nil || !has {
		return value, err
	}
	by, err := unsigned(under)
	if err != nil || !(by > 0) {
		return 0, fmt.Errorf("fraction %q", s)
	}
	return value / by, nil
}

func unsigned(s string) (float64, error) {
	if s == "" || strings.Trim(s, "0123456789.") != "" {
		return 0, fmt.Errorf("number %q", s)
	}
	return strconv.ParseFloat(s, 64)
}

// snap moves a translation onto a near multiple of 1/24.
func snap(t float64) float64 {
	if n := math.Round(24 * t); math.Abs(t-n/24) < 0.002 {
		return n / 24
	}
	return t
}

// wrap brings a coordinate into 0 ≤ t < 1.
func wrap(t float64) float64 {
	t -= math.Floor(t)
	if t > 1-1e-9 {
		return 0
	}
	return t
}

// String writes the operator as ParseOperator reads it.
func (o Operator) String() string {
	var b strings.Builder
	for i := range 3 {
		if i > 0 {
			b.WriteByte(',')
		}
		start := b.Len()
		for j, letter := range "xyz" {
			n := o.R[3*i+j]
			switch {
			case n < 0:
				b.WriteByte('-')
			case n > 0 && b.Len() > start:
				b.WriteByte('+')
			}
			if n < -1 || n > 1 {
				fmt.Fprintf(&b, "%d*", max(n, -n))
			}
			if n != 0 {
				b.WriteRune(letter)
			}
		}
		if t := o.T[i]; t > 1e-9 {
			b.WriteByte('+')
			b.WriteString(fractionText(t))
		}
	}
	return b.String()
}

func fractionText(t float64) string {
	for _, n := range []float64{2, 3, 4, 6, 8, 12, 24} {
		if k := math.Round(n * t); math.Abs(k-n*t) < 1e-9 {
			return fmt.Sprintf("%.0f/%.0f", k, n)
		}
	}
	return strconv.FormatFloat(t, 'f', -1, 64)
}

// Apply returns the image of a point, not wrapped.
func (o Operator) Apply(x [3]float64) (y [3]float64) {
	for i := range y {
		y[i] = float64(o.R[3*i])*x[0] + float64(o.R[3*i+1])*x[1] + float64(o.R[3*i+2])*x[2] + o.T[i]
	}
	return y
}

// after returns the operator that applies p first and o then.
func (o Operator) after(p Operator) Operator {
	t := o.Apply(p.T)
	return Operator{R: product(o.R, p.R), T: [3]float64{wrap(snapFine(t[0])), wrap(snapFine(t[1])), wrap(snapFine(t[2]))}}
}

// snapFine removes rounding errors from sums of multiples of 1/24.
func snapFine(t float64) float64 {
	if n := math.Round(24 * t); math.Abs(t-n/24) < 1e-6 {
		return n / 24
	}
	return t
}

func product(a, b [9]int) (c [9]int) {
	for i := range 3 {
		for j := range 3 {
			c[3*i+j] = a[3*i]*b[j] + a[3*i+1]*b[3+j] + a[3*i+2]*b[6+j]
		}
	}
	return c
}

func determinant(m [9]int) int {
	return m[0]*(m[4]*m[8]-m[5]*m[7]) - m[1]*(m[3]*m[8]-m[5]*m[6]) + m[2]*(m[3]*m[7]-m[4]*m[6])
}

// inverse returns the inverse of a matrix of determinant ±1.
func inverse(m [9]int) [9]int {
	d := determinant(m)
	return [9]int{
		d * (m[4]*m[8] - m[5]*m[7]), d * (m[2]*m[7] - m[1]*m[8]), d * (m[1]*m[5] - m[2]*m[4]),
		d * (m[5]*m[6] - m[3]*m[8]), d * (m[0]*m[8] - m[2]*m[6]), d * (m[2]*m[3] - m[0]*m[5]),
		d * (m[3]*m[7] - m[4]*m[6]), d * (m[1]*m[6] - m[0]*m[7]), d * (m[0]*m[4] - m[1]*m[3]),
	}
}

// negated returns −m.
func negated(m [9]int) [9]int {
	for i := range m {
		m[i] = -m[i]
	}
	return m
}

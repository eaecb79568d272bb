package xrd

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// An Intercept is the mean linear intercept of the regions of a phase in a section, as in ISO 643 and ASTM E112 (from memory):
// the length of a test line that lies in the phase over the number of regions of it that the line crosses.
type Intercept struct {
	ID     string  // of the phase; empty: of all phases that no other entry names, lengths and regions counted together
	Micron float64 // µm
	U      float64 // standard uncertainty, µm
}

// interceptU is the relative standard uncertainty of an intercept without one: some fifty regions measured by eye
// (common practice).
const interceptU = 0.3

// mostIntercept is the largest intercept that is believed, µm: ten times what an X-ray beam sees of a specimen.
const mostIntercept = 1e5

// ErrIntercept says that a text is no intercept; test with errors.Is.
var ErrIntercept = errors.New("no mean linear intercept")

// ParseIntercepts understands MICRON, MICRON±U and MICRON±U:ID, several of them separated by commas or semicolons; +-, +/- and
// / stand for ±.
func ParseIntercepts(s string) ([]Intercept, error) {
	var out []Intercept
	for _, part := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ';' }) {
		value, id, named := strings.Cut(strings.TrimSpace(part), ":")
		x := Intercept{ID: strings.TrimSpace(id)}
		var err error
		x.Micron, x.U, err = ParseUncertain(value)
		if err != nil || !(x.Micron > 0 && x.Micron <= mostIntercept) || named && x.ID == "" {
			return nil, fmt.Errorf("%w: %q; give µm above 0 with the standard uncertainty, for one phase with its id, as in 12±3 or 4±1:lead", ErrIntercept, part)
		}
		if x.U == 0 {
			x.U = interceptU * x.Micron
		}
		for _, other := range out {
			if strings.EqualFold(other.ID, x.ID) {
				return nil, fmt.Errorf("%w: %q is the second for the same phase", ErrIntercept, part)
			}
		}
		out = append(out, x)
	}
	if out == nil {
		return nil, fmt.Errorf("%w: %q", ErrIntercept, s)
	}
	return out, nil
}

// An InterceptSpread is how much the intercepts of a section differ: CV², the square of their standard deviation over their
// mean. Equal balls have 0.125, regions that end as if by chance (exponential distribution) 1. The zero value means not stated.
type InterceptSpread struct {
	CV2 float64 // variance over the square of the mean
	U   float64 // standard uncertainty of CV2
}

// mostSpread is the largest CV² that is believed: beyond it a few regions of another population rule the mean.
const mostSpread = 9.0

// ErrInterceptSpread says that a text is no spread of intercepts; test with errors.Is.
var ErrInterceptSpread = errors.New("no spread of intercepts")

// ParseInterceptSpread understands CV² and CV²±U; without an uncertainty 30 % are taken, as of some fifty regions.
func ParseInterceptSpread(s string) (x InterceptSpread, err error) {
	x.CV2, x.U, err = ParseUncertain(s)
	if err != nil || !(x.CV2 > 0 && x.CV2 <= mostSpread) {
		return InterceptSpread{}, fmt.Errorf("%w: %q; give (standard deviation over mean)² of the intercepts, above 0 and at most %g, with its standard uncertainty, as in 0.6±0.2", ErrInterceptSpread, s, mostSpread)
	}
	if x.U == 0 {
		x.U = interceptU * x.CV2
	}
	return x, nil
}

// String writes a spread as ParseInterceptSpread reads it; empty when it is not stated.
func (x InterceptSpread) String() string {
	if !(x.CV2 > 0) {
		return ""
	}
	return strconv.FormatFloat(x.CV2, 'g', -1, 64) + "±" + strconv.FormatFloat(x.U, 'g', -1, 64)
}

// FormatIntercepts writes intercepts as ParseIntercepts reads them.
func FormatIntercepts(list []Intercept) string {
	parts := make([]string, len(list))
	for i, x := range list {
		parts[i] = strconv.FormatFloat(x.Micron, 'g', -1, 64) + "±" + strconv.FormatFloat(x.U, 'g', -1, 64)
		if x.ID != "" {
			parts[i] += ":" + x.ID
		}
	}
	return strings.Join(parts, ", ")
}

var plusMinus = strings.NewReplacer("+/-", "±", "+-", "±", "/", "±")

// ParseUncertain understands 10, 10±1, 10+-1, 10+/-1 and 10/1: a value with its standard uncertainty, 0 when it is not given.
func ParseUncertain(s string) (v, u float64, err error) {
	value, spread, given := strings.Cut(plusMinus.Replace(s), "±")
	v, err = strconv.ParseFloat(strings.TrimSpace(value), 64)
	if err == nil && !(math.Abs(v) < 1e300) {
		err = fmt.Errorf("value %q", value)
	}
	if err != nil || !given {
		return v, 0, err
	}
	u, err = strconv.ParseFloat(strings.TrimSpace(spread), 64)
	if err == nil && !(u >= 0 && u < 1e300) {
		err = fmt.Errorf("uncertainty %q", spread)
	}
	return v, u, err
}

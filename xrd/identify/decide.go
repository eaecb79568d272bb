package identify

import (
	"fmt"
	"math"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/screen"
)

// An inquiry is what it takes to say what would tell two phases apart.
type inquiry struct {
	ins    xrd.Instrument
	lo, hi float64 // of the scan, degrees
}

// decide says what would tell a phase from a rival that explains the same lines: a line that only one has, else an
// element that only one has.
func (q inquiry) decide(own, rival refdata.Phase) string {
	var ways []string
	if at, of, intensity, ok := q.line(own, rival); ok {
		text := fmt.Sprintf("a line at %.2f° (%.0f %% of the strongest) that only %s has", at, intensity, of)
		if at > q.hi || at < q.lo {
			text = "a wider scan: " + text
		}
		ways = append(ways, text)
	}
	a, b := only(own, rival), only(rival, own)
	switch {
	case a != "" && b != "":
		ways = append(ways, fmt.Sprintf("an analysis for %s (%s) against %s (%s)", a, own.Name, b, rival.Name))
	case a+b != "":
		ways = append(ways, "an analysis for "+a+b)
	}
	if len(ways) == 0 {
		return "they have the same lines and elements, so that neither this scan nor a chemical analysis decides"
	}
	return strings.Join(ways, ", or ")
}

// line returns the strongest line that stands clear of all lines of the other phase, inside the scan when there is one.
func (q inquiry) line(a, b refdata.Phase) (at float64, of string, intensity float64, ok bool) {
	inside := false
	for _, pair := range [][2]refdata.Phase{{a, b}, {b, a}} {
		for _, l := range pair[0].Lines {
			in := l.TwoTheta >= q.lo && l.TwoTheta <= q.hi
			if l.Intensity < 100*policy.Deciding.Line || inside && !in || !in && math.Abs(l.TwoTheta-q.hi) > policy.Deciding.Beyond || q.near(l.TwoTheta, pair[1]) {
				continue
			}
			if !ok || in && !inside || l.Intensity > intensity {
				at, of, intensity, ok, inside = l.TwoTheta, pair[0].Name, l.Intensity, true, in
			}
		}
	}
	return at, of, intensity, ok
}

// near reports whether a phase has a line near an angle; a small change of cell is allowed for.
func (q inquiry) near(twoTheta float64, p refdata.Phase) bool {
	reach := policy.Deciding.Width*q.ins.FWHM(twoTheta) + 2*xrd.Degrees(math.Tan(xrd.Radians(twoTheta/2)))*screen.NarrowReach/2
	for _, l := range p.Lines {
		if math.Abs(l.TwoTheta-twoTheta) < reach && l.Intensity > policy.Deciding.Weak {
			return true
		}
	}
	return false
}

// only names the elements that one phase has and the other has not.
func only(a, b refdata.Phase) string {
	has := map[string]bool{}
	for _, e := range b.Composition {
		has[e.Symbol] = true
	}
	var list []string
	for _, e := range a.Composition {
		if el, ok := element.Lookup(e.Symbol); ok && !has[e.Symbol] {
			list = append(list, el.Symbol)
		}
	}
	return strings.Join(list, ", ")
}

package plots

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd/result"
)

// peaksOnly reports whether a document holds peaks of a scan in which no phase was looked for.
func peaksOnly(doc result.Document) bool {
	return len(doc.Phases) == 0 && doc.Fit == nil && len(doc.Peaks) > 0
}

// mostLabels keeps a figure readable; the table has all peaks.
const mostLabels = 30

// fittedPeaks draws the fitted curve over the scan and explains it.
func (p *patternPlot) fittedPeaks() {
	var run []point
	for _, i := range p.keep {
		run = append(run, point{p.x.at(p.c.TwoTheta[i]), p.y.clip(p.c.Calculated[i])})
	}
	colour := p.style.paint(0).edge
	p.add(shape{runs: [][]point{run}, stroke: colour, width: 0.9 * p.m.line})
	p.keys = append(p.keys, legendry{func(x, y float64) {
		p.line(colour, p.m.line, point{x - 0.6*p.m.small, y}, point{x + 0.3*p.m.small, y})
	}, p.w.FittedPeaks})
}

// peakLabels writes the angle upwards over the peaks that have room, largest first; images of other peaks carry the
// name of their wavelength.
func (p *patternPlot) peakLabels() {
	found := slices.Clone(p.doc.Peaks)
	slices.SortStableFunc(found, func(a, b result.Peak) int { return cmp.Compare(finite(b.Area), finite(a.Area)) })
	written := 0
	for _, k := range found {
		if !p.x.holds(k.TwoTheta) || written == mostLabels {
			continue
		}
		if l, ok := p.peakPlace(k); ok {
			p.write(l)
			p.taken = append(p.taken, l.box())
			written++
		}
	}
}

// peakPlace returns the label of a peak where it stands over the peak's own top, moved aside a little if need be.
func (p *patternPlot) peakPlace(k result.Peak) (label, bool) {
	small := p.m.small
	x, half := p.x.at(k.TwoTheta), 0.5*small
	i, _ := slices.BinarySearch(p.c.TwoTheta, k.TwoTheta)
	crest := p.y.clip(p.c.Calculated[min(i, len(p.c.Calculated)-1)])
	for _, aside := range []float64{0, 0.5, -0.5, 1, -1} {
		at := x + aside*small
		top := p.height(at-half, at+half)
		if top < crest-2*small {
			continue // it would name what reaches higher
		}
		l := label{x: at + 0.35*small, y: math.Min(top, crest) - 0.4*small, size: small, vertical: true, colour: p.th.quiet, text: p.w.number(peakLabel(k))}
		if p.free(l.box(), point{at, top}) {
			return l, true
		}
	}
	return label{}, false
}

func peakLabel(k result.Peak) string {
	text := fmt.Sprintf("%.2f°", k.TwoTheta)
	if image, _, ok := strings.Cut(k.Kind, " of "); ok {
		text += " " + image
	}
	return text
}

package diagnose

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/combin"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
)

// Peaks that are orders of one spacing, as a film, a tape or a single crystal shows them.
const (
	spacingPeaks   = 5    // least number: two of them set the spacing and a shift of the angles
	spacingShare   = 0.7  // of the summed area of all peaks: a substrate may have the rest
	spacingShift   = 0.3  // largest common shift of the angles, degrees (a surface 1 mm off at a radius of 200 mm shifts by 0.5°)
	spacingWithin  = 0.03 // scatter of a peak about its place after the fit, degrees: a third of a usual width
	spacingFirst   = 20   // highest order that the strongest peak is tried as
	spacingByLuck  = 1e-3 // largest probability that so many peaks in other places lie so by chance
	spacingMatches = 0.01 // relative difference of the spacing from that of a reference
)

// OneSpacing returns the largest spacing, Å, of which nearly all peaks are orders, and their orders, ascending. The places are fitted with
// the spacing and a common shift, and what chance does is the share of the range that the places of all orders take.
func OneSpacing(list []peaks.Peak, wavelength float64) (spacing float64, orders []int, ok bool) {
	var all []peaks.Peak
	total, strongest := 0.0, 0
	for _, p := range list {
		if p.Kind != peaks.KAlpha {
			continue
		}
		if all = append(all, p); p.Area > all[strongest].Area {
			strongest = len(all) - 1
		}
		total += p.Area
	}
	if len(all) < spacingPeaks {
		return 0, nil, false
	}
	first, reach := all[0].TwoTheta, all[len(all)-1].TwoTheta-all[0].TwoTheta
	for n := 1; n <= spacingFirst; n++ {
		s := ordersOf(all, wavelength, float64(n)*all[strongest].D, 0, 4*spacingWithin)
		for range 3 {
			if s.spacing > 0 {
				s = ordersOf(all, wavelength, s.spacing, s.shift, spacingWithin)
			}
		}
		k := len(s.orders)
		if k < spacingPeaks || s.area < spacingShare*total || !(math.Abs(s.shift) <= spacingShift) {
			continue
		}
		places := 0.0
		for m := 1; ; m++ {
			at, ok := xrd.TwoTheta(s.spacing/float64(m), wavelength)
			if !ok || at > first+reach+spacingWithin {
				break
			}
			if at >= first-spacingWithin {
				places++
			}
		}
		luck := math.Min(1, 2*spacingWithin*places/reach)
		if spacingFirst*chosen(len(all), k)*math.Pow(luck, float64(k-2)) < spacingByLuck && !byFew(s.orders, luck) {
			return s.spacing, s.orders, true
		}
	}
	return 0, nil, false
}

// byFew reports whether a spacing rests on few peaks: the others are orders of a whole fraction of it too, and so few lie at one of the
// places that the larger spacing adds by luck. One weak peak beside the orders of 6.36 Å made them orders of 31.8 Å.
func byFew(orders []int, luck float64) bool {
	for g := 2; g <= spacingFirst; g++ {
		few := 0
		for _, m := range orders {
			if m%g != 0 {
				few++
			}
		}
		if 2*few < len(orders) && chosen(len(orders), few)*math.Pow(luck, float64(few)) >= spacingByLuck {
			return true
		}
	}
	return false
}

// chosen is in how many ways k of n peaks can be chosen.
func chosen(n, k int) float64 { return combin.GeneralizedBinomial(float64(n), float64(k)) }

// spacingFit is a spacing, Å, with a common shift of the angles, degrees, and the peaks that are its orders.
type spacingFit struct {
	spacing, shift, area float64
	orders               []int
}

// ordersOf takes the peaks that lie within some degrees of orders of a spacing, shifted, and fits both anew to them by least squares; the
// spacing is 0 where they do not determine it.
func ordersOf(list []peaks.Peak, wavelength, spacing, shift, within float64) (out spacingFit) {
	var s, sx, sy, sxx, sxy float64
	for _, p := range list {
		m := math.Round(2 * spacing * math.Sin(xrd.Radians((p.TwoTheta-shift)/2)) / wavelength)
		at, found := xrd.TwoTheta(spacing/m, wavelength)
		if !(m >= 1) || !found || math.Abs(p.TwoTheta-shift-at) > within {
			continue
		}
		x, y := -2*xrd.Degrees(math.Tan(xrd.Radians(at/2))), p.TwoTheta-at // x: degrees by relative change of the spacing
		s, sx, sy, sxx, sxy = s+1, sx+x, sy+y, sxx+x*x, sxy+x*y
		out.orders, out.area = append(out.orders, int(m)), out.area+p.Area
	}
	det := s*sxx - sx*sx
	if !(det > 0) || len(out.orders) < spacingPeaks-1 {
		return spacingFit{}
	}
	out.spacing, out.shift = spacing*(1+(s*sxy-sx*sy)/det), (sxx*sy-sx*sxy)/det
	return out
}

// LayersOf returns the planes of a phase that show orders of a spacing, Å: their largest spacing is that one, or some times as large where
// a film shows only every second or third of their orders.
func LayersOf(p refdata.Phase, spacing float64) (pole [3]int, ok bool) {
	for _, pole := range [][3]int{{0, 0, 1}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {1, 1, 1}} {
		for _, l := range p.Lines {
			if len(l.Families) == 0 {
				continue
			}
			f := l.Families[0]
			h := [3]int{f.H, f.K, f.L}
			if !parallel(h, pole, p.System) {
				continue
			}
			order := l.D / spacing
			if n := math.Round(order); n >= 1 && n <= 4 && math.Abs(order/n-1) < spacingMatches {
				return pole, true
			}
			break // lines ascend in angle: the first of these planes has their largest spacing
		}
	}
	return pole, false
}

// oneSpacing tells that a scan shows one set of planes and nothing that would say of which phase.
func oneSpacing(e Evidence) []xrd.Caution {
	if e.Document.Explanation == nil || e.Document.Explanation.OneSpacing == nil {
		return nil
	}
	s := e.Document.Explanation.OneSpacing
	text := fmt.Sprintf("%d of %d peaks are orders of one spacing, %.2f Å: one set of planes lies along the surface, as in a film, a tape, a plate or a single crystal. The other lines, which would tell the phase, are missing, and their intensities say nothing of amounts.", s.Peaks, s.Of, s.Spacing)
	var names []string
	for _, c := range s.Candidates {
		names = append(names, fmt.Sprintf("%s (planes %d %d %d)", c.Name, c.Pole[0], c.Pole[1], c.Pole[2]))
	}
	if len(names) > 0 {
		text += " Of the reference data that were tried, " + strings.Join(names, ", ") + " would have this spacing; that alone does not establish a name."
	}
	return []xrd.Caution{{Code: "one-spacing", Severity: xrd.SeverityCaution, Text: text,
		Remedy:   "Scan a powder of it, or tilt the specimen so that other planes reflect; give the elements, which leaves fewer candidates.",
		Evidence: map[string]any{"spacing_angstrom": s.Spacing, "peaks": s.Peaks}}}
}

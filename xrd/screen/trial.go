package screen

import (
	"cmp"
	"math"
	"slices"

	"phasetally/refdata"
)

// sticks returns the strongest lines of a phase that a grid reaches, strongest first, lines that a scan cannot tell
// apart taken together.
func (r logGrid) sticks(lines []refdata.Line, most int) []stick {
	out := make([]stick, 0, len(lines))
	for _, l := range lines {
		out = r.add(out, l.D, l.Intensity)
	}
	out = r.merge(out)
	slices.SortStableFunc(out, func(a, b stick) int { return cmp.Compare(b.intensity, a.intensity) })
	return out[:min(most, len(out))]
}

// strongSticks does the same for strong lines, in buffer and in no order.
func (r logGrid) strongSticks(lines []refdata.StrongLine, buffer []stick) []stick {
	for _, l := range lines {
		buffer = r.add(buffer, float64(l.D), float64(l.Intensity))
	}
	return r.merge(buffer)
}

func (r logGrid) add(out []stick, d, intensity float64) []stick {
	if m := r.bin(d); m >= 0 && m < r.bins && intensity > 0 {
		out = append(out, stick{m, intensity / 100, 0})
	}
	return out
}

// merge sorts sticks by bin and joins those that lie within the grid's gap, each group at its mean. Lines on top of
// each other would otherwise all earn the same area.
func (r logGrid) merge(lines []stick) []stick {
	slices.SortFunc(lines, func(a, b stick) int { return a.bin - b.bin })
	out := lines[:0]
	for k := 0; k < len(lines); {
		first, moment, sum := lines[k].bin, 0.0, 0.0
		for ; k < len(lines) && float32(lines[k].bin-first) <= r.gap[first]; k++ {
			moment += float64(lines[k].bin-first) * lines[k].intensity
			sum += lines[k].intensity
		}
		out = append(out, stick{first + int(math.Round(moment/sum)), sum, float32(math.Sqrt(sum))})
	}
	return out
}

// A Trial is how well a phase explains what is left, at its best displacement and cell.
type Trial struct {
	Gain         float64 // reduction of the sum of weighted squares that its scale brings
	Displacement float64 // mm
	Stretch      float64 // relative change of all spacings
	Scale        float64 // counts × degrees for the strongest line
	Found        float64 // share of its testable intensity that is there, 0 to 1
}

const (
	absentQuantile = 0.25 // intensity-weighted share of lines that may fall short before the scale gives way
	lineTolerance  = 0.3  // relative misfit of a line that texture and few grains make ordinary
	absentCost     = 25   // most that one absent line can cost, in units of weighted squares
	finalists      = 8    // misplacements that are weighed, after all have been compared by their overlap
)

// A misplacement is a table and a change of cell.
type misplacement struct {
	table   *table
	bins    int
	overlap float32
}

// bestTrial tries all misplacements of a phase with cells changed by up to a reach. The cost of a misplacement is that of
// its prior.
func bestTrial(tables []table, lines []stick, reach, displacement0, stretchSigma float64) Trial {
	var best [finalists]misplacement
	var buffer [2*mostBins/stretchBins + 1]float32
	n, first := 0, -min(mostBins, reachBins(reach))
	sums := buffer[:-2*first/stretchBins+1]
	for k := range tables {
		tables[k].overlaps(lines, first, stretchBins, sums)
		for j, sum := range sums {
			if n == finalists && sum <= best[n-1].overlap {
				continue
			}
			n = min(n+1, finalists)
			i := n - 1
			for ; i > 0 && best[i-1].overlap < sum; i-- {
				best[i] = best[i-1]
			}
			best[i] = misplacement{&tables[k], first + j*stretchBins, sum}
		}
	}
	var out Trial
	var seen [mostSticks]observed
	for _, m := range best[:n] {
		t := weigh(m.table.look(lines, m.bins, seen[:0]))
		e := stretch(m.bins)
		pd, pe := (m.table.displacement-displacement0)/0.15, e/stretchSigma
		t.Gain -= pd*pd + pe*pe
		if t.Gain > out.Gain {
			t.Displacement, t.Stretch = m.table.displacement, e
			out = t
		}
	}
	return out
}

// mostBins is the farthest that lines are shifted: for a change of cell by 4 %.
const mostBins = 160

// weigh finds the scale that the lines support together and the gain it brings. A line allows at most the scale of its
// area and some uncertainty; the scale is the value that all but a quarter of the intensity allows, and no more than
// the fit of the lines to it. Intensity beyond the expected belongs to other phases and earns nothing.
func weigh(lines []observed) Trial {
	if len(lines) == 0 {
		return Trial{}
	}
	limit := supported(lines)
	var num, den float64
	for _, l := range lines {
		w := 1 / (l.u * l.u)
		num += math.Min(math.Max(l.area, 0), limit*l.intensity) * l.intensity * w
		den += l.intensity * l.intensity * w
	}
	s := num / den
	if !(s > 0) {
		return Trial{}
	}
	t := Trial{Scale: s}
	var testable, found float64
	for _, l := range lines {
		z, e := l.area/l.u, s*l.intensity/l.u
		got := math.Min(z, e)
		t.Gain += math.Max(2*got*e-e*e, -absentCost)
		if e > 3 {
			testable += l.intensity
			found += l.intensity * math.Max(0, math.Min(1, z/e))
		}
	}
	if testable > 0 {
		t.Found = found / testable
	}
	return t
}

// supported returns the scale that all but absentQuantile of the intensity allows.
func supported(lines []observed) float64 {
	type bound struct{ scale, weight float64 }
	var buffer [mostSticks]bound
	bounds := buffer[:0]
	var total float64
	for _, l := range lines {
		b := bound{(math.Max(0, l.area) + 2*l.u) / (l.intensity * (1 - lineTolerance)), l.intensity}
		i := len(bounds)
		bounds = append(bounds, b)
		for ; i > 0 && bounds[i-1].scale > b.scale; i-- {
			bounds[i] = bounds[i-1]
		}
		bounds[i] = b
		total += l.intensity
	}
	var sum float64
	for _, b := range bounds {
		if sum += b.weight; sum > absentQuantile*total {
			return b.scale
		}
	}
	return bounds[len(bounds)-1].scale
}

// mostSticks is how many lines of a phase are weighed once all its lines are computed.
const mostSticks = 40

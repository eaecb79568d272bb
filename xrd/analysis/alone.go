package analysis

import (
	"math"
	"slices"

	"phasetally/refdata/library"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// probes are phases with many lines in different places; no other phase has the lines of two of them.
var probes = []string{"corundum", "quartz", "rutile"}

// aloneWithin gives the fraction of a phase that was found alone, 100 % by definition, the lower end that the scan allows: less by what
// another phase could have without being seen. That is told for a phase with the intensity of corundum (I/Ic = 1), since most phases
// scatter more: the limits of some probes, brought to that intensity, of which the median is no accident of where lines lie.
func (m measured) aloneWithin(doc *result.Document) {
	own := -1
	for k, p := range doc.Phases {
		if p.Origin == roleNames[quantify.Specimen] && p.WeightPercent != nil && p.WeightPercentLo != nil {
			if own >= 0 {
				return
			}
			own = k
		}
	}
	if own < 0 {
		return
	}
	hidden, density := m.hidden()
	if !(hidden > 0) || hidden >= 100 {
		return
	}
	p := &doc.Phases[own]
	doc.HiddenLimit = result.Number(hidden)
	p.WeightPercentLo = result.Number(math.Min(*p.WeightPercentLo, 100-hidden))
	if p.Density != nil && p.VolumePercentLo != nil {
		rest := (100 - hidden) / *p.Density
		p.VolumePercentLo = result.Number(math.Min(*p.VolumePercentLo, 100*rest/(rest+hidden/density)))
	}
}

// hidden returns the detection limit of a phase that scatters like corundum, wt%, and the density of corundum; NaN when it is not known.
func (m measured) hidden() (limit, density float64) {
	starter := library.Starter()
	var watched []quantify.Watched
	for _, id := range probes {
		i, ok := starter.Find(id)
		if !ok {
			continue
		}
		if p, err := starter.Phase(i, m.beam); err == nil && p.RIR.Value > 0 {
			watched = append(watched, quantify.Watched{Phase: p})
		}
	}
	var found []float64
	for k, limit := range quantify.DetectionLimits(m.input, watched) {
		if !math.IsNaN(limit) && limit < 100 {
			beside := limit / (100 - limit) * watched[k].Phase.RIR.Value // amount over that of the phase found, were I/Ic 1
			found = append(found, 100*beside/(1+beside))
		}
	}
	if len(found) < len(probes) {
		return math.NaN(), 0
	}
	slices.Sort(found)
	return found[len(found)/2], watched[0].Phase.Density
}

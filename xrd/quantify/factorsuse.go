package quantify

import "math"

// The budget of phases with factors. The ratio of two factors has taken up what is wrong with the reference intensity ratios
// and with the intensities of a phase in every mixture of the kind: texture of a way of filling, absorption in grains of a way of
// grinding (to first order the amounts of p and q change by (μ_p − μ_q) times a length, whatever the mixture). What is
// left is how well the factors are known, by what one more mixture departs from them, and by how much more the lines of this
// scan scatter than those of the mixtures did. The ratio of the reference is what it was: it matters where phases without a
// factor, or a constant, are set against the others.

// factorParts returns the covariance of the logarithms of amounts that factors leave, and what one more mixture departs by.
func (p *problem) factorParts(members []int) []budgetPart {
	known, repeat := zeros(len(members)), zeros(len(members))
	own := p.factorsOf(members)
	for i, a := range own {
		if a < 0 {
			continue
		}
		repeat[i][i] = square(p.Corrected.Repeatability) / float64(len(p.scans))
		for j, b := range own {
			if b >= 0 {
				known[i][j] = p.Corrected.Covariance[a][b]
			}
		}
	}
	return []budgetPart{{sourceFactors, known, nil, p.Corrected.RepeatFreedom}, {sourceRepeat, repeat, nil, p.Corrected.RepeatFreedom}}
}

// factorsOf returns the number of the factor of each of some phases, -1 for none.
func (p *problem) factorsOf(members []int) []int {
	out := make([]int, len(members))
	for i, k := range members {
		out[i] = -1
		if p.Corrected != nil {
			out[i] = p.Corrected.index(p.Fit.Setup.Phases[k].ID)
		}
	}
	return out
}

// ratios returns the covariance of the logarithms of reference intensity ratios: phases with factors share that of the reference.
func (p *problem) ratios(members []int) [][]float64 {
	out := zeros(len(members))
	own := p.factorsOf(members)
	for i, k := range members {
		if own[i] < 0 {
			out[i][i] = square(RatioU(p.Fit.Setup.Phases[k]))
			continue
		}
		for j := range members {
			if own[j] >= 0 {
				out[i][j] = square(p.Corrected.ReferenceU)
			}
		}
	}
	return out
}

// beyondMixtures scales the scatter of lines of phases with factors to what exceeds that in the mixtures.
func (p *problem) beyondMixtures(members []int, scatter [][]float64) [][]float64 {
	more := ones(len(members))
	for i, a := range p.factorsOf(members) {
		if a >= 0 && scatter[i][i] > 0 {
			more[i] = math.Sqrt(math.Max(0, 1-square(p.Corrected.List[a].Scatter)/scatter[i][i]))
		}
	}
	out := zeros(len(members))
	for i := range out {
		for j := range out {
			out[i][j] = scatter[i][j] * more[i] * more[j]
		}
	}
	return out
}

package pattern

// refineIterations are those that a refinement may take (common practice).
const refineIterations = 60

// work is what so many iterations take: most of their time goes into the points of lines.
func (m *Model) work(iterations int) float64 {
	points := len(m.setup.TwoTheta)
	for _, t := range m.terms {
		points += max(0, t.last-t.first)
	}
	return float64(iterations) * float64(points)
}

// iterationsLeft is how many iterations the next refinement of a fit may take, at least one.
func (f *Fit) iterationsLeft() int {
	if !(f.most > 0) {
		return refineIterations
	}
	each := f.model.work(1)
	return int(min(refineIterations, max(1, f.most/each-float64(f.Iterations))))
}

// exhausted reports whether a fit has taken the work that it may: it only comes to its end then.
func (f *Fit) exhausted() bool { return f.most > 0 && f.model.work(f.Iterations) >= f.most }

// workLeft is how much work another fit for the sake of this one may take; 0 when that does not matter.
func (f *Fit) workLeft() float64 {
	if !(f.most > 0) {
		return 0
	}
	return max(1, f.most-f.Work)
}

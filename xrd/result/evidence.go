package result

// Evidence says how well a phase is established.
type Evidence string

// The levels, from the strongest. Named is for phases that the user named and the scan does not show beyond doubt;
// Unseen is for phases that were looked for and are not there; NotJudged, in a series, for those of a scan that is not explained,
// which tells neither that they are there nor that they are not.
const (
	Established Evidence = "established"
	Probable    Evidence = "probable"
	Tentative   Evidence = "tentative"
	Named       Evidence = "named"
	Unseen      Evidence = "not detected"
	NotJudged   Evidence = "not judged"
)

// Standing is what a phase counts by where the largest comes first: its fraction, wt%, or the lower end of the interval where the name
// is only tentative, since the middle of 5 to 82 wt% puts a candidate before nothing; −1 where no amount is known.
func (p Phase) Standing() float64 {
	switch {
	case p.WeightPercent == nil:
		return -1
	case p.Evidence == Tentative && p.WeightPercentLo != nil:
		return *p.WeightPercentLo
	}
	return *p.WeightPercent
}

// Converged is the status of a fit that ended as it should.
const Converged = "converged"

package result

// A Verdict says how far an explanation as a whole accounts for what a scan shows, whatever is thought of its phases.
type Verdict string

// The verdicts. Complete: no peak is left that the phases do not account for. Partial: most of the intensity in peaks is
// accounted for, but peaks are left. None: most is not, so that no phase may be called established.
const (
	Complete Verdict = "complete"
	Partial  Verdict = "partial"
	None     Verdict = "none"
)

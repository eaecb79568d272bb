package result

// Evidence says how well a phase is established.
type Evidence string

// The levels, from the strongest. Named is for phases that the user named and the scan does not show beyond doubt;
// Unseen is for phases that were looked for and are not there.
const (
	Established Evidence = "established"
	Probable    Evidence = "probable"
	Tentative   Evidence = "tentative"
	Named       Evidence = "named"
	Unseen      Evidence = "not detected"
)

// Converged is the status of a fit that ended as it should.
const Converged = "converged"

package quantify

// What the tests need of the inside.
var (
	ShareCovariance = shareCovariance
	Shares          = shares
	Coverage95      = coverage95
	SolutionU       = solutionU
)

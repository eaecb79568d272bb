package quantify

// Z95 is the 97.5 % quantile of the Gaussian distribution.
const Z95 = z95

// What the tests need of the inside.
var (
	ShareCovariance = shareCovariance
	Shares          = shares
	Coverage95      = coverage95
	SolutionU       = solutionU
	Trusting        = trusting
)

// ModelU is modelU.
const ModelU = modelU

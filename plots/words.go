package plots

// Words are the labels of the figures, so that a translation is one more table. Verbs such as %s stand where numbers
// and names go, in the order of English.
type Words struct {
	TwoTheta, DSpacing, Counts, Intensity, SqrtScale, LinearScale             string
	Residual, Worst, Masked, Unexplained, Missing, Others                     string
	WeightAxis, NotSeen, NotSpecimen, NothingFound, Unknown, Limit            string
	Observed, Expected, ObservedAxis, Texture, BudgetAxis, BudgetTitle, Total string
	Interval, More, Peaks, Background, OwnLine, SharedLine                    string
	FoundPeaks, FittedPeaks                                                   string
}

// English is the default table.
var English = Words{
	TwoTheta: "2θ (°), %s", DSpacing: "d (Å)", Counts: "counts", Intensity: "intensity (unit not stated)",
	SqrtScale: "%s, √ scale", LinearScale: "%s, linear scale",
	Residual: "residual (σ)", Worst: "worst %s σ at %s°", Masked: "left out", Unexplained: "unexplained",
	Missing: "expected, not seen", Others: "other phases (%d)",
	WeightAxis: "wt% of the crystalline specimen, bars with 95 % intervals", NotSeen: "not seen; < %s wt%%",
	NotSpecimen: "%s, not in the 100 %%", NothingFound: "No phase was found", Unknown: "amount unknown", Limit: "detection limit",
	Observed: "observed", Expected: "expected", ObservedAxis: "observed / expected intensity", Texture: "%s: observed over expected intensity, line by line",
	BudgetAxis: "standard uncertainty (wt%)", BudgetTitle: "Where the uncertainty comes from", Total: "together", Interval: "95 %% interval", More: "and %d more",
	Peaks: "peaks", Background: "background", OwnLine: "free line", SharedLine: "overlapped line",
	FoundPeaks: "%d peaks; no phase was looked for", FittedPeaks: "fitted peaks",
}

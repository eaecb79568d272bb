package plots

import "strings"

// Words are the labels of the figures, so that a translation is one more table. Verbs such as %s stand where numbers
// and names go, in the order of English.
type Words struct {
	TwoTheta, DSpacing, Counts, Intensity, SqrtScale, LinearScale                                 string // axes of a pattern
	Residual, Worst, Masked, Unexplained, Missing, Others                                         string // what the pattern explains
	WeightAxis, SpanAxis, Between, WeightUnit, NotSeen, NotSpecimen, NothingFound, Unknown, Limit string // figure of fractions
	Recognised, RecognisedAxis, CrystallinePart, Tentative                                        string // of scans that are explained in part, beside a standard, of names that are not sure
	Observed, Expected, ObservedAxis, Texture, BudgetAxis, BudgetTitle, Total                     string // figures of evidence and of the budget
	Interval, More, Peaks, Background, OwnLine, SharedLine                                        string // legends
	Simulated, FoundPeaks, FittedPeaks                                                            string // notes
	CalibrationTitle, CalibrationWidth, CalibrationShift                                          string // figure of a calibration
	CalibrationFitted, CalibrationSeen, Lines                                                     string // its legend
	PlanScan, DepthTitle, DepthAxis, DepthLayer, FootprintTitle, FootprintAxis, FootprintRow      string // of a plan: expected scan, information depth, beam over the specimen

	// For those who cannot see the figure.
	PatternTitle, PatternAbout, FractionsTitle, FractionsAbout, BudgetAbout, EvidenceAbout, LinesAbout, CalibrationAbout, DepthAbout, FootprintAbout string

	Language string            // a tag after BCP 47
	Decimal  string            // what stands for the decimal point
	Terms    map[string]string // of words that come from the result, such as origins and sources of uncertainty
}

// term translates a word of the result.
func (w *Words) term(s string) string {
	if t, ok := w.Terms[s]; ok {
		return t
	}
	return s
}

// decimal puts another decimal point into a printed number.
func decimal(number, point string) string {
	if point == "" {
		return number
	}
	return strings.ReplaceAll(number, ".", point)
}

// number writes a printed number as the language does.
func (w *Words) number(s string) string { return decimal(s, w.Decimal) }

// phase translates the name of a phase and lowers the numbers of a formula in it.
func (w *Words) phase(name string) string { return Subscripts(w.term(name)) }

// English is the default table.
var English = Words{
	TwoTheta: "2θ (°), %s", DSpacing: "d (Å)", Counts: "counts", Intensity: "intensity (unit not stated)",
	SqrtScale: "%s, √ scale", LinearScale: "%s, linear scale",
	Residual: "residual (σ)", Worst: "worst %s σ at %s°", Masked: "left out", Unexplained: "unexplained",
	Missing: "expected, not seen", Others: "other phases (%d)",
	WeightUnit: "wt%", WeightAxis: "wt% of the crystalline specimen, bars with 95 % intervals", NotSeen: "not seen; < %s wt%%",
	SpanAxis: "wt% of the crystalline specimen, pale band: between the limits of fine and coarse regions, with 95 % intervals", Between: "between %s and %s wt%%",
	NotSpecimen: "%s, not in the 100 %%", NothingFound: "No phase was found", Unknown: "amount unknown", Limit: "detection limit",
	Recognised: "of what was recognised", CrystallinePart: "of the crystalline part", Tentative: "tentative", RecognisedAxis: "wt% of what was recognised: the scan is explained in part; bars with 95 % intervals",
	Observed: "observed", Expected: "expected", ObservedAxis: "observed / expected intensity", Texture: "%s: observed over expected intensity, line by line",
	BudgetAxis: "standard uncertainty (wt%)", BudgetTitle: "Where the uncertainty comes from", Total: "together", Interval: "95 %% interval", More: "and %d more",
	Peaks: "peaks", Background: "background", OwnLine: "free line", SharedLine: "overlapped line",
	Simulated: "SIMULATED: %s", FoundPeaks: "%d peaks; no phase was looked for", FittedPeaks: "fitted peaks",
	CalibrationTitle: "Calibration with %s", CalibrationWidth: "FWHM of Kα1 (°)", CalibrationShift: "Δ2θ (°)",
	CalibrationFitted: "fitted, 95 % band", CalibrationSeen: "observed, 95 %", Lines: "Reference lines",
	PatternTitle: "Diffraction pattern: %s", FractionsTitle: "Weight fractions: %s",
	PatternAbout:     "Scan %s, %s° to %s° 2θ, %s: observed intensity, the share of each phase stacked on the background, expected lines per phase, and the residual in standard uncertainties.",
	FractionsAbout:   "Horizontal bars of the weight fraction of each phase with 95 % intervals.",
	BudgetAbout:      "Horizontal bars: standard uncertainty of each weight fraction by source.",
	EvidenceAbout:    "One mark per expected line; 1 means as strong as a powder without preferred orientation.",
	LinesAbout:       "Sticks at the expected angles of each phase, their length the relative intensity.",
	CalibrationAbout: "Above: width of %d lines and the width curve. Below: their shift from the certified places, and the shift of zero and displacement with its 95 %% band. %s° to %s° 2θ.",
	PlanScan:         "expected scan", DepthTitle: "Where the signal comes from", DepthAxis: "depth (µm) of 95 % of the signal at the strongest line of the phase; whiskers 50 % and 99 %",
	DepthLayer: "a layer of %s µm is asked for", FootprintTitle: "The beam over the specimen, seen from above", FootprintAxis: "mm along the beam; outlined: the specimen; beside it: the mount",
	FootprintRow:   "%s mm, %s %% on it",
	DepthAbout:     "Horizontal bars of the depth from which 95 per cent of the signal of each phase comes, with whiskers at 50 and 99 per cent.",
	FootprintAbout: "Length of the beam over the outline of the specimen, seen from above, at several angles.",
	Language:       "en",
	Decimal:        ".",
}

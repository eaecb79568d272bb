package identify

import "phasetally/xrd/pattern"

// A Policy holds every threshold by which phases are looked for and named: its meaning, its unit in brackets, and its origin. "By hand"
// means that no source is known: it was chosen by judgement.
// Package screen has the bounds of cells and displacements, package pattern those of lines.
type Policy struct {
	Search   SearchPolicy   // how long phases are looked for and what is asked of one that comes in
	Effort   EffortPolicy   // where the work ends; none of these makes a name more or less certain
	Lines    LinesPolicy    // which lines speak for a phase
	Evidence EvidencePolicy // what makes a name established or probable
	Chance   ChancePolicy   // how many phases would explain the same lines by chance, told by cells that are wrong (decoys)
	Cells    CellsPolicy    // how far a cell may be from that of the reference
	Deviance DeviancePolicy // when one explanation is better than another
	Coverage CoveragePolicy // what of the scan is explained (Judge), and what may explain the rest
	Merit    MeritPolicy    // how figures of merit are counted
	Tube     TubePolicy     // when another tube than the stated one is named
	Deciding DecidingPolicy // what would tell two phases apart
}

// A SearchPolicy says how long phases are looked for and what is asked of one that comes in.
type SearchPolicy struct {
	// FalseAlarm: probability that a scan without any further phase still yields one by chance [1]. Origin: common practice, one
	// scan in a thousand.
	FalseAlarm float64
	// Misplacements: independent places that the freedom of displacement and cell gives each phase [1]. Origin: reasoning: ±0.7 % of
	// cell at a width of 0.1°.
	Misplacements float64
	// FirstPass: significance asked for before widths and intensities are fitted fully, so that weak phases are not called in to
	// mend the misfit of strong ones [standard uncertainties]. Origin: by hand.
	FirstPass float64
	// Promising: significance beside a full fit, over that asked for, from which a phase is fitted: its widths are not its own yet
	// [1]. Origin: by hand.
	Promising float64
	// MostlyExplained: share of the peak area from which a phase may come in whatever it explains: weak ones have no peaks [1].
	// Origin: by hand.
	MostlyExplained float64
	// LeastProgress: part of what is unexplained that a phase must explain before that. Where much is unexplained because its phases
	// are not in the reference data, there is no end of phases that mend a little [1]. Origin: by hand.
	LeastProgress float64
	// LeastKappa: relative misfit of strong lines that screening always allows for: widths are still rough then [1]. Origin: by
	// hand.
	LeastKappa float64
	// UnexplainedSigma: residual of a point, over its noise, from which the point is taken to belong to a phase that is yet to come
	// and weighs less [standard uncertainties]. Origin: by hand.
	UnexplainedSigma float64
	// ClipWidths: how far the background of the first look may be bent down by what stands beside it [widths of a line]. Origin: by
	// hand.
	ClipWidths float64
}

// An EffortPolicy says where the work ends; none of these makes a name more or less certain.
type EffortPolicy struct {
	// Phases: phases of an explanation; one with more is none [phases]. Origin: by hand.
	Phases int
	// Passes: passes of growing and settling [passes]. Origin: by hand.
	Passes int
	// Refused: candidates in a row that do not hold before a round gives up [phases]. Origin: by hand.
	Refused int
	// RefusedSettled: the same beside a full fit, where their order says more [phases]. Origin: by hand.
	RefusedSettled int
	// Shortlist: phases whose lines are all computed in a round [phases]. Origin: by hand.
	Shortlist int
	// Rivals: candidates of a round that are compared by fits [phases]. Origin: by hand.
	Rivals int
	// RivalFits: phases fitted in place of a match [phases]. Origin: by hand.
	RivalFits int
	// Swaps: matches exchanged for a better one before the explanation must stand [phases]. Origin: by hand.
	Swaps int
	// Retries: times that phases may come in for peaks that are left [times]. Origin: by hand.
	Retries int
	// RetryShortlist: phases fitted alone for peaks that are left [phases]. Origin: by hand.
	RetryShortlist int
	// RetryPairs: how many of these are fitted in pairs [phases]. Origin: by hand.
	RetryPairs int
	// Tubes: other tubes that are searched [tubes]. Origin: by hand.
	Tubes int
	// Work: work of fits (pattern.Fit.Work) after which a search adds, exchanges and asks for nothing more [points of lines × iterations]. Origin: by
	// hand: about 10 s of a processor; of 1200 searches of simulated mixtures with a phase missing or not, one in a hundred takes more.
	Work float64
	// LastFit: part of that which one full fit may take when no more is left: a search ends with one [1]. Origin: by hand.
	LastFit float64
	// TubeShare: part of that which a search with another tube may take [1]. Origin: by hand.
	TubeShare float64
	// TubePhases: phases of a search with another tube [phases]. Origin: by hand: the phases that make up nine tenths of a scan's peaks.
	TubePhases int
}

// A LinesPolicy says which lines speak for a phase.
type LinesPolicy struct {
	// Shared: share of its own in a line from which it may still speak for its phase, when it stands so far above what stronger
	// phases can be wrong by there that those cannot explain it [1]. Origin: by hand.
	Shared float64
	// OnPeak: how far a line lies from the peak that it makes [widths of the broader of the two]. Origin: by hand.
	OnPeak float64
	// OnFlank: part of the height of a line that the flank of another peak may be where the line counts [1]. Origin: by hand.
	OnFlank float64
	// DiffuseWidths: width of a line from which it is as likely a step of a filter's edge, a halo or a bend of the background
	// [widths of the instrument]. Origin: common practice.
	DiffuseWidths float64
	// DiffuseLeast: lines that a phase of such lines must show, at least one of its own [lines]. Origin: by hand.
	DiffuseLeast int
	// PlainSigma: significance from which a line under a stronger phase counts for a phase of diffuse lines, too [standard
	// uncertainties]. Origin: reasoning: twice what makes a line seen.
	PlainSigma float64
	// MostAbsent: share of the expected intensity of its own lines that may be missing in a phase that comes in [1]. Origin: by
	// hand.
	MostAbsent float64
	// MostShort: share of its intensity, lines under stronger phases counted, that may lack in a phase that is more than tentative
	// [1]. Origin: by hand.
	MostShort float64
	// OtherIntensities: scatter of the intensities of own lines about the reference, counting and texture taken out, from which they are those of
	// another phase of the type where the cell is not that of the reference [1]. Origin: common practice: whole patterns of powders misfit by 5
	// to 10 %.
	OtherIntensities float64
	// ScatterLeast: lines that it rests on [lines]. Origin: reasoning: one more than lines that a scale and a texture can be chosen for.
	ScatterLeast int
}

// An EvidencePolicy says what makes a name established or probable.
type EvidencePolicy struct {
	// EstablishedPeaks: separate peaks of its own that an established phase must show [peaks]. Origin: reasoning: two numbers,
	// displacement and cell, can be chosen so that one or two peaks are met.
	EstablishedPeaks int
	// ProbablePeaks: the same for a probable one [peaks]. Origin: reasoning, as above.
	ProbablePeaks int
	// Agreements: peaks that an established phase must show beyond the numbers of its cell that the scan tells [peaks]. Origin:
	// reasoning: each of those can be chosen so that a peak is met, and only the others agree.
	Agreements int
	// ContestedAgreements: the same while peaks of about its strength are left [peaks]. Origin: reasoning: of lattices of one kind, all
	// lines are met once one is, so that one more is asked for.
	ContestedAgreements int
	// EstablishedAbsent: share of the expected intensity, and of its lines, that may be absent in an established phase: a weak one of many that
	// texture or its neighbours hide [1]. Origin: by hand.
	EstablishedAbsent float64
	// ProbableAbsent: the same for a probable one [1]. Origin: by hand.
	ProbableAbsent float64
	// EstablishedShare: share of the peak area that all phases together must account for before any is established [1]. Origin: 60
	// measured and simulated scans: it was below where an established name was wrong, and at least 0.75 where the phases were in the
	// reference data.
	EstablishedShare float64
	// LeastMerit: De Wolff's figure of merit from which places of lines agree beyond doubt [1]. Origin: de Wolff, J. Appl. Cryst. 1
	// (1968) 108–113: 10 for 20 lines.
	LeastMerit float64
	// Contested: area of a peak that is left, over that of the strongest line of a phase's own, from which both may be lines of one
	// phase that is missing [1]. Origin: common practice: hardly a phase has no second line of 30 % of its strongest.
	Contested float64
}

// A ChancePolicy says how many phases would explain the same lines by chance, told by cells that are wrong (decoys).
type ChancePolicy struct {
	// Nearest: least relative change of spacings that makes a cell wrong beyond doubt [1]. Origin: reasoning: beyond the widest
	// solid solutions that are tried.
	Nearest float64
	// Step: distance of the changes that are tried, on both sides [1]. Origin: by hand.
	Step float64
	// Steps: changes that are tried on each side [changes]. Origin: by hand.
	Steps int
	// Sample: entries that stand for all in a large library [entries]. Origin: by hand.
	Sample int
	// VeryMany: entries from which a fifth of the sample does, since each that meets the lines then speaks for very many [entries].
	// Origin: by hand.
	VeryMany int
	// AsWell: gain over that of the phase in question from which another explains its lines as well [1]. Origin: by hand.
	AsWell float64
	// Closest: relative change of a cell that is as good as none: published cells and displacements are no better [1]. Origin:
	// common practice.
	Closest float64
	// ExpectedSize: phases that are tried up to which a collection holds what its owner expects, so that another phase of the same
	// type is the less likely, the smaller it is [phases]. Origin: common practice.
	ExpectedSize float64
	// Unseen: decoys that may be hidden where none was seen [decoys]. Origin: Poisson: the median of the rate where none was
	// counted, ln 2.
	Unseen float64
	// Refused: chance from which a phase does not come in [phases]. Origin: by hand.
	Refused float64
	// Named: chance from which it is not named [phases]. Origin: reasoning: of twenty phases that are missing, one is replaced by
	// another.
	Named float64
	// Established: chance from which it is probable at most [phases]. Origin: by hand.
	Established float64
}

// A CellsPolicy says how far a cell may be from that of the reference.
type CellsPolicy struct {
	// Same: mean relative change of the edges that published values and strained specimens of one phase may differ by. Beyond it,
	// the phase may be another one of the same type [1]. Origin: common practice.
	Same float64
	// Own: change of an edge beyond its uncertainty that is no doubt about a name [1]. Origin: reasoning: a metal's thermal expansion over 75 K;
	// the edges of fourteen weighed specimens of minerals differ by no more.
	Own float64
	// VouchingPeaks: separate peaks, beyond the numbers of a cell that differs, from which they vouch for the phase [peaks]. Origin:
	// reasoning: as many as de Wolff asks for the first lines of a new cell (20) are seldom clear of others; half of them are.
	VouchingPeaks int
	// VouchingMerit: figure of merit M that they must have [1]. Origin: de Wolff, J. Appl. Cryst. 1 (1968) 108–113: 10 makes a cell
	// plausible; twice that is asked for.
	VouchingMerit float64
	// VouchingShare: share of the peak area that must be explained where a phase with another cell is vouched for [1]. Origin: by hand; the
	// ordered form of a phase, named for the other, left 5 to 14 %.
	VouchingShare float64
	// Farthest: change beyond which a phase that forms no solid solutions is another one [1]. Origin: by hand.
	Farthest float64
	// SameSubstance: change of spacings that published cells of one substance differ by [1]. Origin: common practice: temperature,
	// and small amounts of other elements.
	SameSubstance float64
	// Near: standard deviation of the cells of specimens that have nearly the published one [1]. Origin: common practice.
	Near float64
	// NearShare: share of such specimens [1]. Origin: common practice.
	NearShare float64
	// DarkMost: most of (a/d)² up to which a peak that is left may be a line that the structure of a cubic phase forbids [1]. Origin: reasoning:
	// there the places of a primitive cell that the structure leaves dark take up less than 2 % of the range; beyond, every place is near one.
	DarkMost float64
	// BeyondReach: how far the cell of a phase that comes in for a peak that is left may be, over what is tried [1]. Origin:
	// reasoning: the fit may move a little beyond the start.
	BeyondReach float64
}

// A DeviancePolicy says when one explanation is better than another.
type DeviancePolicy struct {
	// Near: difference below which two phases explain a scan about equally well [deviance]. Origin: common practice (Δ < 6 is weak
	// evidence for either).
	Near float64
	// Solution: what it takes before a phase with a cell far from its own is preferred to another with its own: models are not good
	// enough for less to mean anything [deviance]. Origin: common practice.
	Solution float64
	// Outsider: the same for a phase beyond the stated elements against one of them [deviance]. Origin: as above.
	Outsider float64
	// Retry: what a phase must save that comes in for a peak that is left [deviance]. Origin: as above.
	Retry float64
	// RivalGain: gain over that of the best from which a candidate is compared by a fit [1]. Origin: by hand.
	RivalGain float64
	// InPlace: gain in place of a match, over that of the match, from which a phase is fitted [1]. Origin: by hand.
	InPlace float64
	// InPlaceStrong: the same of strong lines alone, from which all lines are tried [1]. Origin: by hand.
	InPlaceStrong float64
}

// A CoveragePolicy says what of the scan is explained (Judge), and what may explain the rest.
type CoveragePolicy struct {
	// NoneBelow: share of the peak area below which an explanation is none [1]. Origin: reasoning: more is left than it accounts
	// for.
	NoneBelow float64
	// Balanced: area that the phases put into all peaks, over that of these, from which they account for all although texture or few grains
	// move it from one to another [1]. Origin: by hand; in eight mixtures it was at least 0.955 with everything there, and 0.84 to 0.91 where a
	// phase below its limit or without peaks of its own was missing.
	Balanced float64
	// LeftSigma: significance from which a peak is left [standard uncertainties]. Origin: common practice: 4 to 4.5 for less than
	// one false peak in a hundred scans; the misfit of neighbours asks for a little more.
	LeftSigma float64
	// LeftShare: part of a peak that must be missing: texture and few grains change a line of a phase that is there by as much [1].
	// Origin: by hand.
	LeftShare float64
	// Residual: significance of the intensity that a fit leaves at the place of a left peak, as of a sharp line; below it the lines
	// there make up the peak [standard uncertainties]. Origin: that of a line that is seen (pattern.SeenSigma).
	Residual float64
	// Stiff: width of a peak under which a background cannot bend, over the distance of its knots [1]. Origin: reasoning: a cubic spline has at most
	// one hump on three intervals, half of whose height is as wide as one and a half of them.
	Stiff float64
	// Oriented: significance from which texture that was fitted is there [standard uncertainties]. Origin: common practice.
	Oriented float64
	// Raised: factor that texture gives a line over the largest that it gives any, from which the height of the line tells how grains lie
	// [1]. Origin: reasoning: lines along one axis share it.
	Raised float64
	// OtherLines: lines that texture raises less and that must be seen of such a phase [lines]. Origin: reasoning, as for established
	// phases.
	OtherLines int
	// OrientedLeast: part of the area of such a peak that the phase must account for [1]. Origin: by hand: basal lines of pressed plates
	// come out two to three times as high as a March–Dollase function that fits the other lines.
	OrientedLeast float64
	// FootArea: area of a line over that of a peak on its foot [1]. Origin: by hand: profile functions describe measured tails to a few
	// per cent of the area.
	FootArea float64
	// FootWidth: width of a peak on a foot over that of the line [1]. Origin: reasoning: a line of another phase is seldom so broad.
	FootWidth float64
	// FootReach: how far a foot's peak may lie from the line [widths of the peak]. Origin: reasoning: the line lies on its slope.
	FootReach float64
	// Widths: how far from its centre a peak is compared: neighbours are told apart, wrong widths matter little [widths]. Origin: by
	// hand.
	Widths float64
	// Reach: where a peak ends when it is told from its neighbours [widths]. Origin: reasoning: a Lorentzian line has lost 95 % of
	// its area.
	Reach float64
	// Points: points of a peak that the fit must have to be compared with it [points]. Origin: reasoning: place, height and width.
	Points int
	// RetrySigma: significance from which a peak that is left is asked for by itself [standard uncertainties]. Origin: by hand.
	RetrySigma float64
	// RetryLine: intensity over the strongest line from which a line may be that of a peak that is left [%]. Origin: by hand.
	RetryLine float64
	// RestPeaks: peaks that are left which a phase of the whole collection must explain to be spoken of [peaks]. Origin: reasoning,
	// as for established phases.
	RestPeaks int
	// RestPhases: most phases of one element that are taken for them together [phases]. Origin: reasoning: each further one meets more peaks by chance.
	RestPhases int
	// RestTried: phases of an element that are tried for them together [phases]. Origin: by hand.
	RestTried int
	// RestShare: share of the peaks that are left that it must explain [1]. Origin: by hand.
	RestShare float64
}

// A MeritPolicy says how figures of merit are counted.
type MeritPolicy struct {
	// M: lines of M [lines]. Origin: de Wolff, J. Appl. Cryst. 1 (1968) 108–113.
	M int
	// F: most lines of F [lines]. Origin: Smith & Snyder, J. Appl. Cryst. 12 (1979) 60–65.
	F int
	// SamePlace: distance within which a peak is that of a line [widths]. Origin: by hand.
	SamePlace float64
	// SameShare: least share of the peak's area that the line must be expected to give [1]. Origin: by hand.
	SameShare float64
	// SameLine: distance below which two calculated lines are one for the scan [widths]. Origin: by hand.
	SameLine float64
	// Least: lines without which there is no figure [lines]. Origin: by hand.
	Least int
	// Delta: least discrepancy that counts: no scan tells less [degrees 2θ]. Origin: common practice.
	Delta float64
}

// A TubePolicy says when another tube than the stated one is named.
type TubePolicy struct {
	// Gain: gain of a phase that makes a tube worth a search [χ²]. Origin: the significance of the first pass, squared.
	Gain float64
	// Widths: distance on either side over which a mean is taken away, so that a halo counts for no tube [widths]. Origin: by hand.
	Widths float64
	// Share: share of the peak area that an explanation with another tube must account for [1]. Origin: as for an explanation that
	// is nearly complete.
	Share float64
	// By: how much that must be above the share with the stated tube: a phase that is not in the reference data leaves every tube
	// without an explanation [1]. Origin: by hand.
	By float64
}

// A DecidingPolicy says what would tell two phases apart.
type DecidingPolicy struct {
	// Line: intensity over the strongest line from which a line can tell two phases apart [1]. Origin: by hand.
	Line float64
	// Ratio: of the intensity of a line to that of another phase there, from which it tells the two apart [1]. Origin: reasoning: texture and few
	// grains change lines by as much.
	Ratio float64
	// Width: distance between it and any line of the other [widths]. Origin: by hand.
	Width float64
	// Weak: intensity of a line of the other, of 100 for its strongest, up to which it is in nobody's way [%]. Origin: by hand.
	Weak float64
	// Beyond: how far beyond the end of the scan a line is looked for [degrees 2θ]. Origin: by hand.
	Beyond float64
}

// DefaultPolicy returns the thresholds that are in use.
func DefaultPolicy() Policy {
	return Policy{
		Search:   SearchPolicy{FalseAlarm: 1e-3, Misplacements: 10, FirstPass: 25.0, Promising: 0.9, MostlyExplained: 0.9, LeastProgress: 0.02, LeastKappa: 0.03, UnexplainedSigma: 4, ClipWidths: 12.0},
		Effort:   EffortPolicy{Phases: 20, Passes: 5, Refused: 8, RefusedSettled: 4, Shortlist: 24, Rivals: 4, RivalFits: 6, Swaps: 4, Retries: 4, RetryShortlist: 6, RetryPairs: 3, Tubes: 3, Work: 4e8, LastFit: 0.25, TubeShare: 0.25, TubePhases: 8},
		Lines:    LinesPolicy{Shared: 0.2, OnPeak: 0.6, OnFlank: 0.5, DiffuseWidths: 5.0, DiffuseLeast: 3, PlainSigma: 2 * pattern.SeenSigma, MostAbsent: 0.35, MostShort: 0.2, OtherIntensities: 0.1, ScatterLeast: 4},
		Evidence: EvidencePolicy{EstablishedPeaks: 3, ProbablePeaks: 2, Agreements: 2, ContestedAgreements: 3, EstablishedAbsent: 0.05, ProbableAbsent: 0.2, EstablishedShare: 0.7, LeastMerit: 10.0, Contested: 0.3},
		Chance:   ChancePolicy{Nearest: 0.04, Step: 0.0125, Steps: 8, Sample: 1500, VeryMany: 100000, AsWell: 0.8, Closest: 5e-4, ExpectedSize: 1000, Unseen: 0.7, Refused: 3.0, Named: 0.05, Established: 0.02},
		Cells:    CellsPolicy{Same: 0.0025, Own: 0.0015, VouchingPeaks: 10, VouchingMerit: 20.0, VouchingShare: 0.97, Farthest: 0.0075, SameSubstance: 0.0015, Near: 0.001, NearShare: 0.85, DarkMost: 12, BeyondReach: 1.05},
		Deviance: DeviancePolicy{Near: 6, Solution: 40, Outsider: 40, Retry: 40, RivalGain: 0.5, InPlace: 0.6, InPlaceStrong: 0.3},
		Coverage: CoveragePolicy{NoneBelow: 0.5, Balanced: 0.95, LeftSigma: 5.0, LeftShare: 0.3, Residual: pattern.SeenSigma, Stiff: 0.5, Oriented: 3.0, Raised: 0.9, OtherLines: 3, OrientedLeast: 0.25, FootArea: 25.0, FootWidth: 3.0, FootReach: 2.5, Widths: 1.0, Reach: 6.0, Points: 3, RetrySigma: 10.0, RetryLine: 50.0, RestPeaks: 3, RestPhases: 3, RestTried: 12, RestShare: 0.5},
		Merit:    MeritPolicy{M: 20, F: 30, SamePlace: 0.5, SameShare: 0.3, SameLine: 0.5, Least: 3, Delta: 1e-4},
		Tube:     TubePolicy{Gain: 25.0 * 25.0, Widths: 4.0, Share: 0.9, By: 0.3},
		Deciding: DecidingPolicy{Line: 0.03, Ratio: 2.0, Width: 2.0, Weak: 0.5, Beyond: 60},
	}
}

// policy is never changed.
var policy = DefaultPolicy()

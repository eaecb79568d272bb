package plots

// SeriesWords are the labels of the figures of a series, so that a translation is one more table.
type SeriesWords struct {
	TrendTitle, WeightAxis, PartAxis, ScanNumber, Ribbon, Whiskers, LimitMark string // figure of the trend
	RibbonSpan, WhiskersSpan, Medians                                         string // its legend
	StackTitle, StackAxis, StackNote, Shown                                   string // stacked scans
	DifferenceTitle, DifferenceAxis, DifferenceNote, LeftOut                  string // differences of scans
	PerSecond, TrendAbout                                                     string // notes
}

// EnglishSeries is the default table.
var EnglishSeries = SeriesWords{
	TrendTitle: "Phases over the series", WeightAxis: "wt% of the crystalline specimen", PartAxis: "wt% of what was recognised in each scan", ScanNumber: "scan", Ribbon: "ribbons: 95 % intervals",
	RibbonSpan: "dashed bands: between the limits of fine and coarse regions, 95 %", WhiskersSpan: "whiskers: between the limits of fine and coarse regions, 95 %",
	Medians:  "medians of up to %d scans",
	Whiskers: "whiskers: 95 % intervals", LimitMark: "not seen: less than this",
	StackTitle: "Scans of the series, one scale", StackAxis: "%s of the lowest scan, √ scale",
	StackNote: "All on one √ scale, none normalised; each scan is raised by %s √(%s) above the one below; in the colour of the phase that gives most", Shown: "%d of %d scans shown",
	DifferenceTitle: "Each scan minus %s", DifferenceAxis: "difference (%s) of the lowest scan",
	DifferenceNote: "One scale; each is raised by %s %s above the one below; beyond 3 σ in the colour of the phase that changes most there",
	PerSecond:      "counts/s",
	LeftOut:        "%d with other radiation or range left out",
	TrendAbout:     "One line per phase: weight per cent against %s, with 95 %% ribbons; open marks are detection limits.",
}

// seriesWords are the labels of a style; other languages come with a table of their own.
func (s Style) seriesWords() *SeriesWords {
	if s.Series == nil {
		return &EnglishSeries
	}
	return s.Series
}

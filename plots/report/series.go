package report

import (
	"bytes"
	"cmp"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"slices"
	"strings"

	"phasetally/plots"
	"phasetally/xrd/result"
)

//go:embed series.html
var seriesSource string

//go:embed series.css
var seriesStyle string

var seriesPage = template.Must(template.New("series").Parse(safetySource + seriesSource))

// SeriesOptions steers SeriesHTML; its zero value is a page of tables.
type SeriesOptions struct {
	Figures []*plots.Figure // drawn into the page, in this order
	Files   []string        // names of files that lie beside the page, to be linked; relative and plain
}

// SeriesHTML returns the page of a series as one self-contained file: the trend in words and figures, a row a scan with
// a link to its own report, the cautions, and where everything came from.
func SeriesHTML(s result.Series, o SeriesOptions) ([]byte, error) {
	v := seriesView{Style: template.CSS(pageStyle + seriesStyle), Sentence: template.HTML(together.Replace(string(lowered(SeriesSentence(s))))), How: seriesHow(s), Phases: phaseNames(s), Conditions: s.Conditions, At: slices.Index(s.Conditions, s.Abscissa),
		Cautions: cautionViews(result.Document{Cautions: s.Cautions}), Provenance: provenanceRows(s.Provenance), Settings: settingRows(s.Provenance), Series: s, Files: o.Files}
	for _, f := range o.Figures {
		v.Figures = append(v.Figures, seriesFigure{template.HTML(f.InlineSVG()), f.Description()})
	}
	shown, outstanding := evenly(len(s.Scans), len(s.Scans)), 0
	if v.Pages = ScanPages(s); len(v.Pages) > 0 {
		shown, outstanding = shownScans(s, spread, striking)
		v.Shown = what(s, len(shown), outstanding, striking)
	}
	for _, i := range shown {
		v.Scans = append(v.Scans, scanView(s.Scans[i], i, len(s.Phases)))
	}
	v.Colours = seriesColours(s)
	var b bytes.Buffer
	err := seriesPage.Execute(&b, v)
	return b.Bytes(), err
}

// together keeps a trend on one line; it is given HTML.
var together = strings.NewReplacer(" (", "\u00a0(", " → ", "\u00a0→\u00a0", "&lt; ", "&lt;\u00a0")

func phaseNames(s result.Series) (names []template.HTML) {
	for _, p := range s.Phases {
		names = append(names, lowered(p.Name))
	}
	return names
}

// seriesView is what the template reads.
type seriesView struct {
	Style                template.CSS
	Sentence             template.HTML
	How                  string
	Phases               []template.HTML // names
	Colours, Conditions  []string
	Figures              []seriesFigure
	Scans                []seriesScan
	Cautions             []cautionView
	Provenance, Settings []pair
	Series               result.Series
	At                   int // column of the condition that trends run along; -1: none
	Files                []string
	Shown                string     // which scans have a row; "": all
	Page                 ScanPage   // of a further page
	Pages                []ScanPage // further pages
}

type seriesFigure struct {
	SVG     template.HTML
	Caption string
}

type seriesScan struct {
	Number                  int
	Name, File, Link, Error string
	Conditions              []string
	Amounts                 []seriesAmount
	Span                    int
	Fit, Cautions           string
}

type seriesAmount struct {
	Text, Interval string
	Seen           bool
}

func scanView(e result.SeriesEntry, i, phases int) seriesScan {
	v := seriesScan{Number: i + 1, Name: cmp.Or(plain(e.Sample), plain(e.File)), File: plain(e.File), Error: plain(e.Error), Conditions: e.Conditions,
		Span: phases + 1, Cautions: strings.Join(e.Cautions, ", ")}
	if e.Folder != "" {
		v.Link = folderLink(e.Folder, "analysis.json")
		if e.HasReport {
			v.Link = folderLink(e.Folder, "report.html")
		}
	}
	if e.RWP != nil {
		v.Fit = fmt.Sprintf("%.1f %%", 100**e.RWP)
	}
	for _, p := range e.Phases {
		a := seriesAmount{Text: shareText(e, p), Seen: p.Detected}
		if p.Detected && !e.Spanned() && p.WeightPercentLo != nil && p.WeightPercentHi != nil { // else the text is the interval
			a.Interval = interval(p.WeightPercentLo, p.WeightPercentHi, plots.Decimals(p.WeightPercentLo, p.WeightPercentHi))
		}
		if p.Detected && p.Origin != "specimen" && p.Origin != "" {
			a.Interval += " " + p.Origin
		}
		v.Amounts = append(v.Amounts, a)
	}
	return v
}

// folderLink is a relative link, every part escaped.
func folderLink(folder, name string) string {
	var parts []string
	for part := range strings.SplitSeq(folder, "/") {
		parts = append(parts, url.PathEscape(part))
	}
	return "./" + strings.Join(append(parts, name), "/")
}

// shareText is a fraction, the span in which it lies, or the limit of a phase that is not seen.
func shareText(e result.SeriesEntry, p result.SeriesShare) string {
	switch {
	case p.Detected && e.Spanned() && p.WeightPercentLo != nil && p.WeightPercentHi != nil:
		return interval(p.WeightPercentLo, p.WeightPercentHi, plots.Decimals(p.WeightPercentLo, p.WeightPercentHi))
	case p.Detected && p.WeightPercent != nil:
		return plots.Fixed(*p.WeightPercent, plots.Decimals(p.WeightPercentLo, p.WeightPercentHi))
	case p.Detected && p.Origin != "specimen" && p.Origin != "":
		return plain(p.Origin) // there, and not in the 100 %
	case p.Detected || p.Evidence == result.NotJudged:
		return "?"
	case p.DetectionLimit != nil:
		return "< " + plots.Limit(*p.DetectionLimit)
	}
	return "not seen"
}

// SeriesSentence tells a series in one sentence. Along a condition: what each phase is in the first and in the last scan that
// has an answer. Scans without such an order are taken as independent: mean, standard deviation and extremes.
func SeriesSentence(s result.Series) string {
	var with []result.SeriesEntry
	again := s.Repeats()
	for i, e := range s.Scans {
		if e.Error == "" && len(e.Phases) == len(s.Phases) && !again[i] {
			with = append(with, e)
		}
	}
	if len(with) == 0 {
		return "No scan of the series has an answer."
	}
	if s.Abscissa == "" && len(with) > 1 {
		return independent(s, with)
	}
	if placed := slices.DeleteFunc(slices.Clone(with), func(e result.SeriesEntry) bool { return e.Abscissa == nil }); len(placed) > 0 {
		with = placed
		slices.SortStableFunc(with, func(a, b result.SeriesEntry) int { return cmp.Compare(*a.Abscissa, *b.Abscissa) })
	}
	first, last := with[0], with[len(with)-1]
	var parts []string
	for k, p := range s.Phases {
		if slices.ContainsFunc(with, func(e result.SeriesEntry) bool { return e.Phases[k].Detected }) {
			parts = append(parts, plain(p.Name)+" "+way(s, with, k))
		}
	}
	if len(parts) == 0 {
		return fmt.Sprintf("In %s, no phase of the series is seen.", counted(len(with)))
	}
	if len(with) == 1 {
		return fmt.Sprintf("In %s: %s wt%% of %s.", counted(1), list(parts), baseOf(with))
	}
	span := TraceName(s, first) + " to " + TraceName(s, last)
	if first.Abscissa != nil {
		span = fmt.Sprintf("%s %s to %s", plain(s.Abscissa), plots.Plain(*first.Abscissa), plots.Plain(*last.Abscissa))
	}
	return fmt.Sprintf("Over %s, %s: %s wt%% of %s.", counted(len(with)), span, list(parts), baseOf(with))
}

// turns is the least way back, as a share of all that the fraction of a phase changes by over a series, from which a trend is told with
// its turning point. Much of an interval is common to all scans, so that it says little of changes.
const turns = 0.2

// way tells how a phase goes from the first scan to the last, by way of where it is most or least in between when it turns back there.
func way(s result.Series, with []result.SeriesEntry, k int) string {
	first, last := with[0], with[len(with)-1]
	out := shareText(first, first.Phases[k])
	if len(with) == 1 {
		if p := first.Phases[k]; p.Detected && !first.Spanned() && p.WeightPercent != nil {
			return plots.PlusMinus(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi)
		}
		return out
	}
	amount := func(e result.SeriesEntry) (float64, bool) {
		p := e.Phases[k]
		if p.Detected && p.WeightPercent != nil {
			return *p.WeightPercent, true
		}
		return 0, !p.Detected && p.Evidence != result.NotJudged
	}
	least, most := -1, -1
	var values []float64
	var places []int
	for i, e := range with {
		if v, ok := amount(e); ok {
			values, places = append(values, v), append(places, i)
			n := len(values) - 1
			if least < 0 || v < values[least] {
				least = n
			}
			if most < 0 || v > values[most] {
				most = n
			}
		}
	}
	var turning []int
	if len(values) > 2 {
		span, a, b := values[most]-values[least], values[0], values[len(values)-1]
		if values[most]-max(a, b) > turns*span {
			turning = append(turning, places[most])
		}
		if min(a, b)-values[least] > turns*span {
			turning = append(turning, places[least])
		}
	}
	slices.Sort(turning)
	for _, i := range turning {
		out += " → " + shareText(with[i], with[i].Phases[k]) + " (" + TraceName(s, with[i]) + ")"
	}
	return out + " → " + shareText(last, last.Phases[k])
}

// independent tells a series without an order.
func independent(s result.Series, with []result.SeriesEntry) string {
	var parts []string
	spanned := slices.ContainsFunc(with, result.SeriesEntry.Spanned)
	for k, p := range s.Phases {
		if p.Seen == 0 || p.Mean == nil {
			continue
		}
		text := plain(p.Name) + " " + ofScans(p)
		if spanned {
			text = plain(p.Name) + " " + spanOf(with, k)
		}
		if p.Seen < p.Answers {
			text += fmt.Sprintf(", seen in %d", p.Seen)
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return fmt.Sprintf("In %s, no phase of the series is seen.", counted(len(with)))
	}
	return fmt.Sprintf("In %s: %s wt%% of %s.", counted(len(with)), strings.Join(parts, "; "), baseOf(with))
}

// baseOf is what the percentages of a series are of.
func baseOf(scans []result.SeriesEntry) string {
	partly := 0
	for _, e := range scans {
		if e.Verdict == result.Partial {
			partly++
		}
	}
	switch {
	case partly == 0:
		return "the crystalline part"
	case partly == len(scans):
		return "what was recognised"
	}
	return fmt.Sprintf("the crystalline part, in %d of them of what was recognised", partly)
}

// ofScans is mean ± standard deviation and the extremes, with the decimals that the standard deviation bears.
func ofScans(p result.SeriesPhase) string {
	if p.Deviation == nil {
		return plots.Fixed(*p.Mean, 1)
	}
	lo, hi := *p.Mean-2**p.Deviation, *p.Mean+2**p.Deviation
	d := plots.Decimals(&lo, &hi)
	return fmt.Sprintf("%s ± %s (standard deviation; %s to %s)", plots.Fixed(*p.Mean, d), plots.Fixed(*p.Deviation, d), plots.Fixed(*p.Least, d), plots.Fixed(*p.Most, d))
}

// spanOf says between which limits a phase lies in all scans that show it, where each scan gives two limits only.
func spanOf(with []result.SeriesEntry, k int) string {
	var lo, hi *float64
	for _, e := range with {
		p := e.Phases[k]
		if !p.Detected || p.WeightPercentLo == nil || p.WeightPercentHi == nil {
			continue
		}
		if lo == nil || *p.WeightPercentLo < *lo {
			lo = p.WeightPercentLo
		}
		if hi == nil || *p.WeightPercentHi > *hi {
			hi = p.WeightPercentHi
		}
	}
	if lo == nil || hi == nil {
		return "seen"
	}
	return "between " + plots.Fixed(*lo, plots.Decimals(lo, hi)) + " and " + plots.Fixed(*hi, plots.Decimals(lo, hi))
}

func counted(n int) string {
	if n == 1 {
		return "1 scan"
	}
	return fmt.Sprintf("%d scans", n)
}

// TraceName names a scan of a series in a figure: by the condition that trends run along, else by its specimen or file.
func TraceName(s result.Series, e result.SeriesEntry) string {
	if s.Abscissa != "" && e.Abscissa != nil {
		return plain(s.Abscissa) + " = " + plots.Plain(*e.Abscissa)
	}
	return cmp.Or(plain(e.Sample), plain(e.File))
}

// seriesHow says how the phases came about.
func seriesHow(s result.Series) string {
	if s.Fixed {
		return "The phases were named; every scan was fitted with all of them."
	}
	return "The phases were found in the sum of the scans and in single scans spread over the series; then every scan was fitted with all of them."
}

// SeriesText writes the answer of a series for a terminal: one sentence, one row a scan, the cautions.
func SeriesText(w io.Writer, s result.Series) error {
	header := []string{"scan"}
	if s.Abscissa != "" {
		header = append(header, plain(s.Abscissa))
	}
	for _, p := range s.Phases {
		header = append(header, plain(p.Name))
	}
	rows := [][]string{header}
	shown, note := evenly(len(s.Scans), len(s.Scans)), ""
	if len(s.Scans) > allShown {
		var outstanding int
		shown, outstanding = shownScans(s, trendOnly, trendOnly)
		note = what(s, len(shown), outstanding, trendOnly) + " Every scan is in series.csv and on the pages of series.html.\n"
	}
	for _, i := range shown {
		e := s.Scans[i]
		row := []string{plain(e.File)}
		if s.Abscissa != "" {
			at := "?"
			if e.Abscissa != nil {
				at = plots.Plain(*e.Abscissa)
			}
			row = append(row, at)
		}
		for _, p := range e.Phases {
			text := shareText(e, p)
			if !e.Spanned() && p.Detected && p.WeightPercent != nil {
				text = plots.PlusMinus(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi)
			}
			row = append(row, text)
		}
		if e.Error != "" {
			row = append(row, plain(e.Error))
		}
		rows = append(rows, row)
	}
	if _, err := fmt.Fprintf(w, "%s\n\nwt%% with 95 %% intervals\n%s%s", SeriesSentence(s), ragged(rows), note); err != nil {
		return err
	}
	return cautions(w, result.Document{Cautions: s.Cautions})
}

// ragged pads columns to the right; rows may be short or end in a text of any length.
func ragged(rows [][]string) string {
	width := map[int]int{}
	for _, row := range rows {
		for i, c := range row {
			if i < len(rows[0]) && !(len(row) == i+1 && len(row) < len(rows[0])) {
				width[i] = max(width[i], len([]rune(c)))
			}
		}
	}
	var b strings.Builder
	for _, row := range rows {
		line := ""
		for i, c := range row {
			line += c + strings.Repeat(" ", max(0, width[i]-len([]rune(c)))+3)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}

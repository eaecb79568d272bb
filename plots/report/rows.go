package report

import (
	"fmt"
	"html/template"
	"regexp"
	"slices"
	"strings"

	"phasetally/plots"
	"phasetally/refdata"
	"phasetally/xrd/result"
)

type fractionRow struct {
	Name, Formula              template.HTML
	Colour                     string
	Weight, WeightInterval     string
	Volume, VolumeInterval     string
	Original, OriginalInterval string
	Evidence, Origin, Limit    string
	Depth, LimitNote           string
	Seen, Unjudged             bool
}

// fractionRows lists phases largest first, then those that were asked for and not seen.
func fractionRows(doc result.Document) []fractionRow {
	colour := map[string]string{}
	for i, slot := range plots.Slots(doc) {
		colour[doc.Phases[i].ID] = plots.PhaseColour(slot)
	}
	own, others := bySize(doc)
	var out []fractionRow
	for _, p := range append(own, others...) {
		out = append(out, fractionRowOf(doc, p, colour[p.ID]))
	}
	for _, n := range doc.NotDetected {
		if !n.Asked {
			continue // in one paragraph under the table: see NotSeen
		}
		row := fractionRow{Name: lowered(n.Name), Evidence: "not seen", Limit: "?"}
		if !doc.Judged() {
			row.Unjudged = true
			out = append(out, row)
			continue
		}
		if n.DetectionLimit != nil {
			row.Weight, row.Limit = "not seen; < "+plots.Limit(*n.DetectionLimit), plots.Limit(*n.DetectionLimit)
		}
		out = append(out, row)
	}
	return out
}

func fractionRowOf(doc result.Document, p result.Phase, colour string) fractionRow {
	w, v, o := plots.Decimals(p.WeightPercentLo, p.WeightPercentHi), plots.Decimals(p.VolumePercentLo, p.VolumePercentHi),
		plots.Decimals(p.OriginalWeightPercentLo, p.OriginalWeightPercentHi)
	row := fractionRow{Name: lowered(p.Name), Formula: lowered(p.Formula), Colour: colour, Seen: true, Evidence: string(p.Evidence), Origin: p.Origin, Limit: "?",
		Weight: fixed(p.WeightPercent, w), WeightInterval: interval(p.WeightPercentLo, p.WeightPercentHi, w),
		Volume: fixed(p.VolumePercent, v), VolumeInterval: interval(p.VolumePercentLo, p.VolumePercentHi, v),
		Original: fixed(share(p.OriginalWeightPercent), o), OriginalInterval: interval(share(p.OriginalWeightPercentLo), share(p.OriginalWeightPercentHi), o)}
	if f, c := p.FineLimitWeightPercent, p.CoarseLimitWeightPercent; f != nil && c != nil && limitColumns(doc) != nil {
		row.LimitNote = "if regions are fine: " + plots.Fixed(*f, w) + ", coarse: " + plots.Fixed(*c, w)
		if doc.Absorption == result.AbsorptionEither {
			row.LimitNote = "if a fine powder: " + withInterval(f, p.FineLimitLo, p.FineLimitHi) + ",\nif a coarse section: " + withInterval(c, p.CoarseLimitLo, p.CoarseLimitHi)
		}
	}
	if doc.Spanned() && p.WeightPercentLo != nil && p.WeightPercentHi != nil {
		row.Weight = "between " + plots.Fixed(*p.WeightPercentLo, w) + " and " + plots.Fixed(*p.WeightPercentHi, w)
	}
	row.Depth = "?"
	if p.Depth95 != nil {
		row.Depth = fmt.Sprintf("%.2g", *p.Depth95)
	}
	if p.DetectionLimit != nil {
		row.Limit = plots.Limit(*p.DetectionLimit)
	}
	if p.Origin != "specimen" && p.Origin != "" { // no share of the 100 %, which its evidence says
		for _, cell := range []*string{&row.Weight, &row.WeightInterval, &row.Volume, &row.VolumeInterval, &row.Original, &row.OriginalInterval, &row.Depth} {
			if *cell == "?" {
				*cell = "–"
			}
		}
	}
	return row
}

// amorphousRow is what a standard tells of the part that does not diffract; nil without one.
func amorphousRow(doc result.Document) *fractionRow {
	a := doc.Absolute
	if a == nil || a.AmorphousWeightPercent == nil || !hasOriginal(doc) {
		return nil
	}
	cells := valueAndInterval(a.AmorphousWeightPercent, a.AmorphousLo, a.AmorphousHi)
	return &fractionRow{Original: cells[0], OriginalInterval: cells[1]}
}

func hasOriginal(doc result.Document) bool {
	return slices.ContainsFunc(doc.Phases, func(p result.Phase) bool { return p.OriginalWeightPercent != nil })
}

// lowered escapes a text and sets the numbers of formulas below the line.
func lowered(s string) template.HTML {
	return template.HTML(plots.Lowered(template.HTMLEscapeString(plain(s)), func(n string) string { return "<sub>" + n + "</sub>" }))
}

// cautionView leaves out the numbers behind a caution: its text says them with their units, the JSON has them bare.
type cautionView struct{ Word, Code, Text, Remedy string }

// Told is the text as the page shows it.
func (c cautionView) Told() template.HTML { return worded(c.Text) }

// Do is the remedy as the page shows it.
func (c cautionView) Do() template.HTML { return worded(c.Remedy) }

func cautionViews(doc result.Document) []cautionView {
	var out []cautionView
	for _, c := range worstFirst(doc.Cautions) {
		out = append(out, cautionView{severityWord(c.Severity), c.Code, c.Text, c.Remedy})
	}
	return out
}

// flagName is a flag of the command, escaped or not.
var flagName = regexp.MustCompile(`--[a-z][a-z-]*[a-z]`)

// worded is a sentence for the page: formulae with their numbers below the line, and flags that no line end breaks in two.
func worded(s string) template.HTML {
	return template.HTML(flagName.ReplaceAllString(string(lowered(s)), `<span class="flag">$0</span>`))
}

type phaseView struct {
	Plain                    string
	Name, Formula            template.HTML
	Evidence, Origin, Colour string
	Reasons                  []string
	Facts                    []pair
	Lines                    []lineRow
	Alternatives             []result.Alternative
	Budget                   []pair
	Figure                   template.HTML
}

type lineRow struct{ HKL, D, TwoTheta, Expected, Observed, Ratio, State string }

func phaseViews(doc result.Document) ([]phaseView, error) {
	var out []phaseView
	slots := plots.Slots(doc)
	for i, p := range doc.Phases {
		v := phaseView{Plain: plain(p.Name), Name: lowered(p.Name), Formula: lowered(p.Formula), Evidence: string(p.Evidence), Origin: p.Origin, Colour: plots.PhaseColour(slots[i]),
			Facts: phaseFacts(p), Alternatives: p.Alternatives}
		for _, r := range p.Reasons {
			v.Reasons = append(v.Reasons, r.Text)
		}
		for _, l := range p.Lines {
			v.Lines = append(v.Lines, lineRowOf(l))
		}
		for _, b := range p.Budget {
			v.Budget = append(v.Budget, pair{b.Source, fmt.Sprintf("%.2g", b.UWeightPercent)})
		}
		if len(p.Lines) > 0 && i < maxEvidence {
			figure, err := plots.Evidence(doc, p.ID, plots.Style{})
			if err != nil {
				return nil, err
			}
			v.Figure = template.HTML(figure.InlineSVG())
		}
		out = append(out, v)
	}
	return out, nil
}

// lineRowOf prints a line of a phase; the state is said in words.
func lineRowOf(l result.PhaseLine) lineRow {
	row := lineRow{HKL: plots.HKL(l), D: plots.Fixed(l.D, 4), TwoTheta: plots.Fixed(l.TwoTheta, 3), Expected: fmt.Sprintf("%.4g", l.Expected),
		Observed: "?", Ratio: "?", State: string(l.Verdict)}
	if l.Observed != nil {
		row.Observed = fmt.Sprintf("%.4g", *l.Observed)
		if l.ObservedU != nil {
			row.Observed = withU(*l.Observed, *l.ObservedU)
		}
		if l.Expected > 0 {
			row.Ratio = plots.Fixed(*l.Observed/l.Expected, 2)
		}
	}
	return row
}

// withU prints a value and its standard uncertainty, both to the uncertainty's digits.
func withU(v, u float64) string {
	lo, hi := v-u, v+u
	n := plots.Decimals(&lo, &hi)
	return plots.Fixed(v, n) + " ± " + plots.Fixed(u, n)
}

func phaseFacts(p result.Phase) []pair {
	var out []pair
	add := func(key, value string) {
		if value != "" {
			out = append(out, pair{key, value})
		}
	}
	add("Cell", cellText(p.Cell, p.CellU))
	if p.RIR != nil {
		add("Reference intensity ratio", strings.TrimSpace(fmt.Sprintf("%.3g (%s)", *p.RIR, joined(", ", p.RIROrigin, p.RIRBasis, p.RIRRadiation))))
	}
	if p.Density != nil {
		add("Density", fmt.Sprintf("%.4g g/cm³ %s", *p.Density, p.DensityOrigin))
	}
	if p.SizeNM != nil {
		add("Crystallite size", fmt.Sprintf("%.3g nm", *p.SizeNM))
	}
	if p.Strain != nil {
		add("Microstrain", fmt.Sprintf("%.2g", *p.Strain))
	}
	for _, t := range p.Texture {
		add("Texture", fmt.Sprintf("pole %d %d %d, March–Dollase r = %.3f ± %.3f", t.Pole[0], t.Pole[1], t.Pole[2], t.R, t.RU))
	}
	if p.DetectionLimit != nil {
		add("Detection limit", plots.Limit(*p.DetectionLimit)+" wt%")
	}
	return out
}

func joined(sep string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), sep)
}

// cellText prints edges, and the angles that are not 90°.
func cellText(c, u *refdata.Cell) string {
	if c == nil {
		return ""
	}
	if u == nil {
		u = &refdata.Cell{}
	}
	var parts []string
	add := func(name string, v, du float64, unit string, digits int) {
		s := fmt.Sprintf("%s = %.*f", name, digits, v)
		if du > 0 {
			s += fmt.Sprintf(" ± %.1g", du)
		}
		parts = append(parts, s+unit)
	}
	add("a", c.A, u.A, " Å", 4)
	if c.B != c.A {
		add("b", c.B, u.B, " Å", 4)
	}
	if c.C != c.A {
		add("c", c.C, u.C, " Å", 4)
	}
	for _, a := range []struct {
		name  string
		v, du float64
	}{{"α", c.Alpha, u.Alpha}, {"β", c.Beta, u.Beta}, {"γ", c.Gamma, u.Gamma}} {
		if a.v != 90 {
			add(a.name, a.v, a.du, "°", 2)
		}
	}
	return strings.Join(parts, ", ")
}

type peakRow struct{ TwoTheta, D, Height, Area, FWHM, Significance, Phases string }

func peakRows(doc result.Document) []peakRow {
	name := map[string]string{}
	for _, p := range doc.Phases {
		name[p.ID] = p.Name
	}
	var out []peakRow
	for _, p := range doc.Peaks {
		var owners []string
		if strings.Contains(p.Kind, " of ") {
			owners = append(owners, p.Kind+"°")
		}
		for i, id := range p.PhaseIDs {
			owner := id
			if n, ok := name[id]; ok {
				owner = n
			}
			if i < len(p.HKL) {
				owner += " " + p.HKL[i]
			}
			owners = append(owners, owner)
		}
		out = append(out, peakRow{plots.Fixed(p.TwoTheta, 3), plots.Fixed(p.D, 4), fmt.Sprintf("%.4g", p.Height), fmt.Sprintf("%.4g", p.Area),
			plots.Fixed(p.FWHM, 3), plots.Fixed(p.Significance, 1), strings.Join(owners, "; ")})
	}
	return out
}

package report

import (
	"slices"
	"strings"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// An Answer is what a page shows of a document, in the words of the report. Numbers of formulas stand between the marks Below and
// Level, to be set below the line; nothing else in it steers anything.
type Answer struct {
	Sentence string   `json:"sentence"` // the answer in one sentence
	Base     string   `json:"base"`     // what the percentages are of
	Stops    int      `json:"stops"`    // cautions that say that it must not be used as it is
	Claims   []Claim  `json:"claims"`   // phases, in the order of the document
	Doubts   []Doubt  `json:"doubts"`   // other cautions, the gravest first
	NotSeen  string   `json:"not_seen"` // phases that were asked for and are not there
	Left     []Left   `json:"left"`     // peaks that are left
	Methods  string   `json:"methods"`  // what only the user knows in square brackets
	Hazards  []string `json:"hazards"`  // of dust, in words
	Absolute string   `json:"absolute"` // amorphous part, in words; empty without a standard
	Tube     string   `json:"tube"`     // with which far more would be explained; empty for none
}

// A Claim is a phase with how much there is of it.
type Claim struct {
	ID       string   `json:"id"`       // of the phase
	Name     string   `json:"name"`     // for people
	Formula  string   `json:"formula"`  // as text
	Colour   string   `json:"colour"`   // of the figures, hexadecimal
	Dark     string   `json:"dark"`     // the colour on a dark ground
	Hatch    int      `json:"hatch"`    // its number among the patterns of the figures
	Weight   string   `json:"weight"`   // wt%, as text
	Interval string   `json:"interval"` // 95 %, as text
	Volume   string   `json:"volume"`   // volume per cent, as text
	Value    *float64 `json:"value"`    // wt%
	Lo       *float64 `json:"lo"`       // lower end of the 95 % interval, wt%
	Hi       *float64 `json:"hi"`       // upper end
	Evidence string   `json:"evidence"` // level, in words
	Doubt    string   `json:"doubt"`    // the first reason against its name, where that is not sure; else empty
	Origin   string   `json:"origin"`   // empty for the specimen's own
	Limit    string   `json:"limit"`    // detection limit, as text
	Seen     bool     `json:"seen"`     // the scan shows it
	Why      []string `json:"why"`      // reasons, in words
	Rivals   []Rival  `json:"rivals"`   // that explain its lines about as well
}

// A Rival is a phase that explains the same lines nearly as well, with what would decide.
type Rival struct {
	ID     string `json:"id"`     // of the phase
	Name   string `json:"name"`   // for people
	Decide string `json:"decide"` // what would tell them apart
}

// A Doubt is a caution in words.
type Doubt struct {
	Word   string `json:"word"`   // Stop, Caution, Note
	Code   string `json:"code"`   // of the caution
	Brief  string `json:"brief"`  // its first sentence
	Text   string `json:"text"`   // what is doubtful
	Remedy string `json:"remedy"` // what to do
}

// A Left is a peak that no phase explains.
type Left struct {
	TwoTheta float64 `json:"two_theta"` // degrees
	Text     string  `json:"text"`      // what it could be
}

// Below and Level stand around the numbers of formulas in the texts of an Answer. No text from a file holds them.
const (
	Below = "\x02"
	Level = "\x03"
)

// BelowLine marks the numbers of formulas in a text.
func BelowLine(s string) string {
	return plots.Lowered(plain(s), func(n string) string { return Below + n + Level })
}

// AnswerOf gives what a page shows of a document.
func AnswerOf(doc result.Document) Answer {
	a := Answer{Sentence: BelowLine(Sentence(doc)), Base: Base(doc), Claims: []Claim{}, Doubts: []Doubt{}, Left: []Left{},
		NotSeen: BelowLine(strings.Join(strings.Fields(NotSeen(doc)), " ")), Methods: methodsText(doc), Absolute: beyondHeadline(doc)}
	if x := doc.Explanation; x != nil {
		a.Tube = x.Radiation
	}
	slots := map[string]int{}
	for i, slot := range plots.Slots(doc) {
		slots[doc.Phases[i].ID] = slot
	}
	own, others := bySize(doc)
	for _, p := range append(own, others...) {
		a.Claims = append(a.Claims, claimOf(doc, p, slots[p.ID]))
	}
	for _, n := range doc.NotDetected {
		if n.Asked {
			c := Claim{ID: n.ID, Name: BelowLine(n.Name), Weight: "not seen", Evidence: "not seen", Limit: "?", Why: []string{}, Rivals: []Rival{}}
			if !doc.Judged() {
				c.Weight, c.Evidence = "?", "not judged"
			} else if n.DetectionLimit != nil {
				c.Limit = plots.Limit(*n.DetectionLimit)
				c.Weight = "not seen; < " + c.Limit
			}
			a.Claims = append(a.Claims, c)
		}
	}
	for _, c := range cautionViews(doc) {
		if c.Word == "Stop" {
			a.Stops++
		}
		a.Doubts = append(a.Doubts, Doubt{c.Word, c.Code, firstSentence(plain(c.Text)), plain(c.Text), plain(c.Remedy)})
	}
	for _, u := range doc.UnexplainedPeaks {
		a.Left = append(a.Left, Left{u.TwoTheta, plots.Fixed(u.TwoTheta, 2) + "°, d " + plots.Fixed(u.D, 4) + " Å, " + plots.Fixed(u.Significance, 0) + " σ"})
	}
	for _, h := range hazardNotes(doc) {
		a.Hazards = append(a.Hazards, plain(h.Phases)+": "+h.Text)
	}
	return a
}

func claimOf(doc result.Document, p result.Phase, slot int) Claim {
	row := fractionRowOf(doc, p, plots.PhaseColour(slot))
	c := Claim{ID: p.ID, Name: BelowLine(p.Name), Formula: BelowLine(p.Formula), Colour: row.Colour, Dark: plots.Style{Dark: true}.PhaseEdge(slot), Hatch: min(slot, plots.Colours),
		Weight: row.Weight, Interval: row.WeightInterval, Volume: row.Volume, Value: p.WeightPercent, Lo: p.WeightPercentLo, Hi: p.WeightPercentHi,
		Evidence: string(p.Evidence), Limit: row.Limit, Seen: true, Why: []string{}, Rivals: []Rival{}}
	if p.Origin != "specimen" {
		c.Origin = plain(p.Origin)
	}
	if p.Evidence == result.Probable || p.Evidence == result.Tentative {
		c.Doubt = mainDoubt(p)
	}
	for _, r := range p.Reasons {
		c.Why = append(c.Why, plain(r.Text))
	}
	for _, f := range phaseFacts(p) {
		c.Why = append(c.Why, plain(f.Key+": "+f.Value))
	}
	for _, r := range p.Alternatives {
		c.Rivals = append(c.Rivals, Rival{r.ID, BelowLine(r.Name), plain(r.Decide)})
	}
	return c
}

// mainDoubt returns the first reason against a phase; how many peaks it has is one only where there is no other.
func mainDoubt(p result.Phase) string {
	told := slices.IndexFunc(p.Reasons, func(r result.Reason) bool { return !speaking[r.Code] && r.Code != "own-peaks" })
	if why := against(p); told < 0 && len(why) > 0 {
		return why[0]
	}
	if told < 0 {
		return ""
	}
	return plain(p.Reasons[told].Text)
}

// firstSentence returns a text up to its first full stop that a capital follows.
func firstSentence(s string) string {
	for i := 0; i+2 < len(s); i++ {
		if s[i] == '.' && s[i+1] == ' ' && s[i+2] >= 'A' && s[i+2] <= 'Z' {
			return s[:i+1]
		}
	}
	return s
}

// methodsText is the methods paragraph as plain text.
func methodsText(doc result.Document) string {
	var b strings.Builder
	for _, part := range methods(doc) {
		if part.Blank {
			b.WriteString("[" + part.Text + "]")
			continue
		}
		b.WriteString(part.Text)
	}
	return b.String()
}

// Cells returns the fractions as rows of cells, the first of them the heads.
func Cells(doc result.Document) [][]string {
	rows := [][]string{{"Phase", "Formula", "wt%", "95 %", "vol%", "95 %", "Evidence", "Limit, wt%"}}
	own, others := bySize(doc)
	for _, p := range append(own, others...) {
		r := fractionRowOf(doc, p, "")
		evidence := r.Evidence
		if p.Origin != "specimen" && p.Origin != "" {
			evidence += ", " + plain(p.Origin) + ": not in the 100 %"
		}
		rows = append(rows, []string{plain(p.Name), plain(p.Formula), r.Weight, r.WeightInterval, r.Volume, r.VolumeInterval, evidence, r.Limit})
	}
	for _, n := range doc.NotDetected {
		if n.Asked && n.DetectionLimit != nil {
			rows = append(rows, []string{plain(n.Name), "", "< " + plots.Limit(*n.DetectionLimit), "", "", "", "not seen", plots.Limit(*n.DetectionLimit)})
		}
	}
	return rows
}

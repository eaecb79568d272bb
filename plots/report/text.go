package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// Text writes the answer for a terminal: one sentence, one table, the cautions with their remedies.
func Text(w io.Writer, doc result.Document) error {
	if _, err := io.WriteString(w, Sentence(doc)+"\n"+spaced(Table(doc))+Doubts(doc)+Coarse(doc)+Micrograph(doc)+HazardNotes(doc)+SameSpecimen(doc)+told(beyondHeadline(doc))+Factors(doc)+LineCheck(doc)+NotSeen(doc)); err != nil {
		return err
	}
	return cautions(w, doc)
}

// cautions writes the doubts with their remedies, the worst first.
func cautions(w io.Writer, doc result.Document) error {
	var b strings.Builder
	for i, c := range worstFirst(doc.Cautions) {
		if i == 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "%s: %s", severityWord(c.Severity), plain(c.Text))
		if c.Remedy != "" {
			fmt.Fprintf(&b, "\n  → %s", plain(c.Remedy))
		}
		fmt.Fprintf(&b, " [%s]\n", plain(c.Code))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// Table returns the fractions as aligned text, one row a phase.
func Table(doc result.Document) string {
	if len(doc.Phases) == 0 {
		return "" // the sentence above says it
	}
	rows := [][]string{{"phase", "formula", "wt%", "95 %", "vol%", "evidence"}}
	note := ""
	if x := doc.Explanation; x != nil && x.Verdict != result.Complete && len(doc.Phases) > 0 {
		note = "Per cent of what was recognised.\n"
		if x.Verdict == result.None {
			note = "Candidates; no fractions.\n"
		}
	}
	own, others := bySize(doc)
	limits := limitColumns(doc)
	rows[0] = slices.Insert(rows[0], 4, limits...)
	whole := hasOriginal(doc)
	if whole {
		rows[0][2] = "crystalline wt%"
		rows[0] = slices.Insert(rows[0], 2, "original wt%", "95 %")
	}
	for i, p := range append(own, others...) {
		n := plots.Decimals(p.WeightPercentLo, p.WeightPercentHi)
		evidence := plain(string(p.Evidence))
		if i >= len(own) {
			evidence += ", " + plain(p.Origin) + ": not in the 100 %"
		}
		row := []string{plain(p.Name), plain(p.Formula), fixed(p.WeightPercent, n),
			interval(p.WeightPercentLo, p.WeightPercentHi, n), fixed(p.VolumePercent, plots.Decimals(p.VolumePercentLo, p.VolumePercentHi)), evidence}
		row = slices.Insert(row, 4, limitCells(p, limits, n)...)
		if whole {
			row = slices.Insert(row, 2, valueAndInterval(p.OriginalWeightPercent, p.OriginalWeightPercentLo, p.OriginalWeightPercentHi)...)
		}
		if i >= len(own) || doc.Explanation != nil && doc.Explanation.Verdict == result.None {
			row = noNumbers(row) // there are none, for a reason that is told
		}
		rows = append(rows, row)
	}
	if a := doc.Absolute; whole && a != nil {
		row := append([]string{"amorphous or unidentified", ""}, valueAndInterval(a.AmorphousWeightPercent, a.AmorphousLo, a.AmorphousHi)...)
		rows = slices.Insert(rows, 1+len(own), append(row, make([]string, len(rows[0])-len(row))...))
	}
	text := align(rows)
	if slices.ContainsFunc(rows, func(row []string) bool { return slices.Contains(row, "?") }) {
		text += "?: not known; see the cautions.\n"
	}
	return note + text
}

// noNumbers puts dashes for what a row has no number of.
func noNumbers(row []string) []string {
	for i, cell := range row {
		if cell == "?" {
			row[i] = "–"
		}
	}
	return row
}

// spaced sets a blank line before a text; "" for none.
func spaced(s string) string {
	if s == "" {
		return ""
	}
	return "\n" + s
}

// told is a sentence as a paragraph; "" for none.
func told(sentence string) string {
	if sentence == "" {
		return ""
	}
	return "\n" + sentence + "\n"
}

// NotSeen names the phases that were looked for and not found, with their detection limits, in lines of readable
// length; it is empty when there are none.
func NotSeen(doc result.Document) string {
	if len(doc.NotDetected) == 0 {
		return ""
	}
	if !doc.Judged() {
		return notJudged(doc)
	}
	var b strings.Builder
	line := "Looked for and not seen (detection limit, wt%):"
	numbers := slices.ContainsFunc(doc.NotDetected, func(n result.NotDetected) bool { return n.DetectionLimit != nil })
	if !numbers {
		line = "Looked for and not seen (" + noLimit(doc) + "):"
	}
	for i, n := range doc.NotDetected {
		item := " " + plain(n.Name)
		switch {
		case n.DetectionLimit != nil:
			item += " < " + plots.Limit(*n.DetectionLimit)
		case numbers:
			item += " (limit not known: no reference intensity ratio, or no line in the range)"
		}
		if i < len(doc.NotDetected)-1 {
			item += ","
		}
		if utf8.RuneCountInString(line+item) > 110 {
			b.WriteString("\n" + line)
			line = " "
		}
		line += item
	}
	b.WriteString("\n" + line + "\n")
	return b.String()
}

// notJudged names the phases that were asked for and of which a scan that is not explained tells nothing.
func notJudged(doc result.Document) string {
	var names []string
	for _, n := range doc.NotDetected {
		if n.Asked {
			names = append(names, plain(n.Name))
		}
	}
	if len(names) == 0 {
		return ""
	}
	return "\nNot judged, since the scan is not explained: " + list(names) + ".\n"
}

// noLimit says why no detection limit has a number.
func noLimit(doc result.Document) string {
	if own, _ := bySize(doc); len(own) == 0 {
		return "no limit in wt%, since nothing was found that it could be a share of"
	}
	return "limits not known: no fractions are given, or no reference intensity ratio, or no line in the range"
}

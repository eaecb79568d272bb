package report

import (
	"fmt"
	"io"
	"strings"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// shownLines is how many lines of a phase the evidence lists, the strongest.
const shownLines = 10

// Evidence writes what a search found: a ranked table, then for every phase why it is believed and which lines speak for
// and against it, then the peaks that nothing explains and the cautions.
func Evidence(w io.Writer, doc result.Document) error {
	var b strings.Builder
	b.WriteString(Sentence(doc) + "\n")
	if len(doc.Phases) > 0 {
		b.WriteString("\n" + ranking(doc))
	}
	for _, p := range doc.Phases {
		b.WriteString("\n" + phaseEvidence(p))
	}
	b.WriteString(unexplained(doc))
	if _, err := io.WriteString(w, b.String()); err != nil {
		return err
	}
	return cautions(w, doc)
}

// ranking has one row a phase, the best established first.
func ranking(doc result.Document) string {
	rows := [][]string{{"phase", "formula", "significance", "own lines", "missing", "evidence"}}
	for _, word := range []result.Evidence{result.Established, result.Probable, result.Tentative, result.Named} {
		for _, p := range doc.Phases {
			if p.Evidence != word {
				continue
			}
			evidence := plain(string(p.Evidence))
			if p.Origin != "specimen" && p.Origin != "" {
				evidence += ", " + plain(p.Origin)
			}
			rows = append(rows, []string{plain(p.Name), plain(p.Formula), reason(p, "significance"), reason(p, "own-lines"), orZero(reason(p, "missing-lines")), evidence})
		}
	}
	return align(rows)
}

// reason returns the value of a reason, rounded; empty when the phase does not have it.
func reason(p result.Phase, code string) string {
	for _, r := range p.Reasons {
		if r.Code == code && r.Value != nil {
			return fmt.Sprintf("%.0f", *r.Value)
		}
	}
	return ""
}

func orZero(s string) string {
	if s == "" {
		return "0"
	}
	return s
}

// phaseEvidence gives reasons and lines of a phase.
func phaseEvidence(p result.Phase) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n", plain(p.Name), plain(string(p.Evidence)))
	for _, r := range p.Reasons {
		fmt.Fprintf(&b, "  %s\n", plain(r.Text))
	}
	rows := [][]string{{"  line", "d/Å", "2θ", "expected", "observed", ""}}
	for _, l := range plots.Strongest(p.Lines, shownLines) {
		row := lineRowOf(l)
		rows = append(rows, []string{"  " + row.HKL, row.D, row.TwoTheta, row.Expected, row.Observed, lineSays[l.Verdict]})
	}
	if len(rows) > 1 {
		b.WriteString(align(rows))
	}
	return b.String()
}

// lineSays puts the verdict on a line into words.
var lineSays = map[result.LineVerdict]string{
	result.LineSeen: "supports the phase", result.LineMissing: "missing: speaks against the phase", result.LineWeak: "too weak to tell",
	result.LineOverlapped: "under a line of another phase", result.LineDiffuse: "too wide to tell from background", result.LineOutside: "outside the scan",
}

func unexplained(doc result.Document) string {
	if len(doc.UnexplainedPeaks) == 0 {
		return ""
	}
	rows := [][]string{{"unexplained peak", "d/Å", "2θ", "significance", "", "could be, of all reference data"}}
	for _, u := range doc.UnexplainedPeaks {
		rows = append(rows, []string{"", plots.Fixed(u.D, 4), plots.Fixed(u.TwoTheta, 2), fmt.Sprintf("%.0f", u.Significance), "", plain(strings.Join(u.CouldBe, ", "))})
	}
	return "\n" + align(rows)
}

// Suspects writes which phases have a line at an angle.
func Suspects(w io.Writer, twoTheta, tolerance float64, list []result.Suspect) error {
	if len(list) == 0 {
		_, err := fmt.Fprintf(w, "No phase of the reference data has a strong line within %.2f° of %.2f° 2θ.\n", tolerance, twoTheta)
		return err
	}
	rows := [][]string{{"id", "formula", "d/Å", "2θ", "I", "place among its lines"}}
	for _, s := range list {
		place := fmt.Sprintf("%d of its strongest", s.Rank)
		if s.Rank == 1 {
			place = "its strongest"
		}
		switch {
		case s.Preparation:
			place += "; preparation watch-list"
		case !s.Inside:
			place += "; outside the given elements"
		}
		rows = append(rows, []string{plain(s.ID), plain(s.Formula), plots.Fixed(s.D, 4), plots.Fixed(s.TwoTheta, 2), fmt.Sprintf("%.0f", s.Intensity), place})
	}
	_, err := fmt.Fprintf(w, "Strong lines within %.2f° of %.2f° 2θ in all reference data\n\n%s", tolerance, twoTheta, align(rows))
	return err
}

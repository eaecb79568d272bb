package plots

import (
	"fmt"
	"math"

	"phasetally/xrd/result"
)

// Budget draws where the uncertainty of each weight fraction comes from: a bar per source, standard uncertainty in wt%,
// grouped by phase and in the phase's colour, with the quadrature sum beside the phase's name.
func Budget(doc result.Document, style Style) (*Figure, error) {
	w := style.words()
	var bars []bar
	slots := Slots(doc)
	rest := 0
	for i, p := range doc.Phases {
		if len(p.Budget) == 0 {
			continue
		}
		if len(bars) > 4*Colours {
			rest++
			continue
		}
		sum := 0.0
		for _, b := range p.Budget {
			sum = math.Hypot(sum, finite(b.UWeightPercent))
		}
		first := len(bars)
		for k, b := range p.Budget {
			name := w.term(b.Source)
			if k == 0 {
				name = w.phase(p.Name) + ": " + name
			}
			bars = append(bars, bar{name: name, value: b.UWeightPercent, lo: math.NaN(), hi: math.NaN(), paint: style.paint(slots[i]),
				text: w.number(fmt.Sprintf("%.2g", b.UWeightPercent))})
		}
		bars[first].text += fmt.Sprintf("  (%s %s)", w.Total, w.number(fmt.Sprintf("%.2g", sum)))
	}
	note := ""
	if rest > 0 {
		note = fmt.Sprintf(w.More, rest)
	}
	title := titled(doc.Scan.Simulated != "", w.BudgetTitle, w)
	f := barChart(style, bars, title, w.BudgetAxis, note)
	f.title = title
	f.about = w.BudgetAbout
	return f, nil
}

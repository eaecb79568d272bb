package plots_test

import (
	"fmt"
	"image/color"
	"os"
	"strings"

	"gonum.org/v1/plot"

	"phasetally/plots"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// Fractions beside others of one's own: the rows of the bars are named by the plot.
func ExampleNewBars() {
	bars := plots.NewBars(resulttest.Mixture(1).Document, plots.Style{})
	p := plot.New()
	p.Add(bars)
	p.NominalY(bars.Names()...)
	fmt.Println(strings.Join(bars.Names(), ", "))
	fmt.Printf("0 to %.1f wt%%\n", p.X.Max)
	// Output:
	// magnetite, quartz, zincite, fluorite, corundum
	// 0 to 34.8 wt%
}

// Expected lines of each phase under a pattern of one's own.
func ExampleNewLanes() {
	lanes, err := plots.NewLanes(resulttest.Mixture(1), plots.Style{}, true)
	if err != nil {
		fmt.Println(err)
		return
	}
	p := plot.New()
	p.Add(lanes)
	p.NominalY(lanes.Names()...)
	p.X.Min, p.X.Max = 20, 100
	fmt.Println(lanes.Names())
	// Output: [zincite fluorite corundum]
}

// A trend on a plot whose legend tells the phases.
func ExampleNewTrends() {
	trends, err := plots.NewTrends(resulttest.Series(7), plots.Style{})
	if err != nil {
		fmt.Println(err)
		return
	}
	p := plot.New()
	p.Add(trends)
	for _, e := range trends.Legend() {
		p.Legend.Add(e.Name, e)
		fmt.Println(e.Name)
	}
	fmt.Printf("%.0f to %.0f hours\n", p.X.Min, p.X.Max)
	// Output:
	// corundum
	// fluorite
	// zincite
	// 0 to 360 hours
}

// Numbers are written as their intervals allow.
func ExampleAmount() {
	v, lo, hi := 31.42, 30.9, 31.94
	fmt.Println(plots.Amount(&v, &lo, &hi))
	fmt.Println(plots.PlusMinus(&v, &lo, &hi))
	fmt.Println(plots.Amount(&v, nil, nil))
	// Output:
	// 31.4 (30.9–31.9)
	// 31.4 ± 0.5
	// 31.4
}

// A detection limit is rounded up, so that what it promises holds.
func ExampleLimit() {
	fmt.Println(plots.Limit(0.321), plots.Limit(1.04), plots.Limit(12.3))
	// Output: 0.33 1.1 13
}

// Round ticks for an axis with a decimal comma, and for one on a √ scale.
func ExampleTicks() {
	for _, t := range (plots.Ticks{Most: 4, Decimal: ","}).Ticks(0, 2) {
		fmt.Println(t.Value, t.Label)
	}
	fmt.Println(len((plots.Ticks{Scale: plots.SqrtScale{}, Most: 6}).Ticks(0, 1000)), "on a √ scale")
	// Output:
	// 0 0
	// 0.5 0,5
	// 1 1
	// 1.5 1,5
	// 2 2
	// 5 on a √ scale
}

// A √ scale shows a quarter of the counts at half of the height.
func ExampleSqrtScale() {
	fmt.Println(plots.SqrtScale{}.Normalize(0, 400, 100))
	// Output: 0.5
}

// Figures in German, for one column of a journal.
func ExampleStyle_In() {
	german, err := plots.Style{Medium: plots.OneColumn}.In("de")
	if err != nil {
		fmt.Println(err)
		return
	}
	figure, err := plots.Budget(resulttest.Mixture(1).Document, german)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(figure.Title())
	// Output: Woher die Unsicherheit kommt
}

// A figure as wide as a poster's column.
func ExampleStyle_Wide() {
	style, err := plots.Style{}.Wide(120)
	fmt.Println(style.Width, style.Medium, err)
	_, err = plots.Style{}.Wide(20)
	fmt.Println(err)
	// Output:
	// 120 one-column <nil>
	// a figure is 60 to 400 mm wide
}

// The colours that a phase has everywhere: in figures on paper, and its outlines on a dark slide.
func ExampleColouring() {
	for i, slot := range plots.Colouring([]string{"corundum", "fluorite"}) {
		fmt.Println(i, plots.PhaseColour(slot), plots.Style{Dark: true}.PhaseEdge(slot))
	}
	// Output:
	// 0 #6A1744 #8F5173
	// 1 #8F7000 #8F7000
}

// Texts on a ground of one's own should reach 4.5 (WCAG 2.2).
func ExampleContrast() {
	fmt.Printf("%.1f\n", plots.Contrast(color.NRGBA{0x55, 0x5e, 0x66, 255}, color.NRGBA{255, 255, 255, 255}))
	// Output: 6.6
}

// The answer in one line, as it stands over every figure.
func ExampleAnswer() {
	doc := resulttest.Mixture(1).Document
	fmt.Println(plots.Answer(doc, &plots.English))
	fmt.Println(plots.Answer(result.Document{}, &plots.English))
	// Output:
	// fluorite 34.4 ± 0.5, zincite 34.2 ± 0.6, corundum 31.4 ± 0.5 wt%
	// No phase was found
}

// Labels of one's own: print the table, change what should differ, read it back.
func ExampleStyle_ReadWords() {
	style, err := plots.Style{}.ReadWords(strings.NewReader(`residual = "difference (σ)"`), "words.toml")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(style.Words.Residual)
	_, err = plots.Style{}.ReadWords(strings.NewReader(`residuum = "x"`), "words.toml")
	fmt.Println(err != nil)
	// Output:
	// difference (σ)
	// true
}

// A figure into a file.
func ExampleFigure_PNG() {
	figure, err := plots.Evidence(resulttest.Mixture(1).Document, "zincite", plots.Style{})
	if err != nil {
		fmt.Println(err)
		return
	}
	data, err := figure.PNG()
	if err != nil {
		fmt.Println(err)
		return
	}
	file, err := os.CreateTemp("", "evidence-*.png")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.Remove(file.Name())
	n, err := file.Write(data)
	fmt.Println(n == len(data), err, file.Close())
	// Output: true <nil> <nil>
}

// Formulas with their numbers below the line.
func ExampleSubscripts() {
	fmt.Println(plots.Subscripts("Al2O3"), plots.Subscripts("Cu6Sn5"))
	// Output: Al₂O₃ Cu₆Sn₅
}

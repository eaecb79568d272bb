package report

import (
	"bytes"
	"cmp"
	_ "embed"
	"html/template"
	"slices"
	"strings"

	"phasetally/plots"
	"phasetally/xrd/result"
)

//go:embed page.html
var pageSource string

//go:embed page.css
var pageStyle string

// safetySource is the template "safety": the limits that stand at the foot of every page.
//
//go:embed safety.html
var safetySource string

// Safety returns the heading and the list of limits that stand at the foot of every page, as HTML.
func Safety() string {
	var b strings.Builder
	if err := page.ExecuteTemplate(&b, "safety", nil); err != nil {
		panic(err) // it takes nothing that could fail
	}
	return b.String()
}

//go:embed page.js
var pageScript string

// FigureScript is the script that draws the pattern of a report, for other pages: a function patternFigure of a canvas, an element for
// words and hooks, whose method load takes what Curves gives.
//
//go:embed figure.js
var FigureScript string

var page = template.Must(template.New("page").Parse(safetySource + pageSource))

// Options steers HTML; its zero value is the report of the main job.
type Options struct {
	Files   []string      // names of files that lie beside the report, to be linked; relative and plain
	Pattern *plots.Figure // the pattern in the plain style, where it has been drawn already; nil: it is drawn
}

// maxEvidence is how many phases get their evidence drawn; further ones have tables only.
const maxEvidence = 12

// HTML returns the report as one self-contained page. It fails only when the curves cannot be drawn (ErrNoPoints of
// package plots).
func HTML(r result.Analysis, o Options) ([]byte, error) {
	v, err := newView(r, o)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.Grow(1 << 20)
	err = page.Execute(&b, v)
	return b.Bytes(), err
}

// view is what the template reads: everything is formatted here, nothing is computed there.
type view struct {
	Style               template.CSS
	Script, Data        template.JS
	Doc                 result.Document
	Sample              string
	Sentence            template.HTML
	Stops, Doubts       int
	Fractions           []fractionRow
	NotSeen             template.HTML
	Micrograph          []micrographRow
	Combined            bool
	Hazards             []hazardNote
	Base                string // what per cents are of
	HasOriginal         bool
	Amorphous           *fractionRow
	Absolute, Same      string
	Pattern, BudgetPlot template.HTML
	Cautions            []cautionView
	Phases              []phaseView
	LineCheck           []lineCheckRow
	Peaks               []peakRow
	Methods             []sentencePart
	References          []result.Reference
	Doubtful, Coarse    template.HTML
	Scan, Fit, Settings []pair
	Provenance          []pair
	Files               []string
}

type pair struct{ Key, Value string }

func newView(r result.Analysis, o Options) (v view, err error) {
	doc := r.Document
	figure := o.Pattern
	if figure == nil {
		if figure, err = plots.Pattern(r, plots.Style{}, plots.PatternOptions{}); err != nil {
			return v, err
		}
	}
	data, err := Curves(r, View{})
	if err != nil {
		return v, err
	}
	v = view{Style: template.CSS(pageStyle), Script: template.JS(FigureScript + pageScript), Data: template.JS(data), Doc: doc,
		Sample: cmp.Or(plain(plots.SampleName(doc.Scan)), "scan"), Sentence: worded(Sentence(doc)), Fractions: fractionRows(doc),
		NotSeen:    lowered(strings.Join(strings.Fields(NotSeen(doc)), " ")),
		Micrograph: micrographRows(doc), Combined: doc.Micrograph != nil && doc.Micrograph.Agree, Hazards: hazardNotes(doc),
		Base: Base(doc), HasOriginal: hasOriginal(doc), Amorphous: amorphousRow(doc), Absolute: beyondHeadline(doc), Same: strings.TrimSpace(SameSpecimen(doc)), Pattern: template.HTML(figure.InlineSVG()),
		Cautions: cautionViews(doc), Peaks: peakRows(doc), LineCheck: lineCheckRows(doc), Doubtful: lowered(strings.ReplaceAll(strings.TrimSpace(Doubts(doc)), "\n", " ")), Coarse: lowered(strings.TrimSpace(Coarse(doc))), Methods: methods(doc), References: doc.References, Scan: scanRows(doc.Scan),
		Fit: fitRows(doc.Fit), Settings: settingRows(doc.Provenance), Provenance: provenanceRows(doc.Provenance), Files: o.Files}
	for _, c := range v.Cautions {
		switch c.Word {
		case "Stop":
			v.Stops++
		case "Caution":
			v.Doubts++
		}
	}
	if v.Phases, err = phaseViews(doc); err != nil {
		return v, err
	}
	if hasBudget(doc) {
		figure, err := plots.Budget(doc, plots.Style{})
		if err != nil {
			return v, err
		}
		v.BudgetPlot = template.HTML(figure.InlineSVG())
	}
	return v, nil
}

func hasBudget(doc result.Document) bool {
	return slices.ContainsFunc(doc.Phases, func(p result.Phase) bool { return len(p.Budget) > 0 })
}

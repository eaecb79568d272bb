package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"

	"phasetally/plots"
	"phasetally/xrd/result"
)

//go:embed plan.html
var planSource string

var planPage = template.Must(template.New("plan").Parse(safetySource + planSource))

// planView is what the template reads.
type planView struct {
	Style                     template.CSS
	Sentence, How, Absorption string
	Warnings, Checklist       []string
	Wrong                     []result.EarlierFault
	Figures                   []seriesFigure
	Tables                    []planTable
}

type planTable struct {
	Title string
	Head  []string
	Rows  [][]string
}

// PlanHTML returns a plan as one self-contained page with figures, whose labels are those of the style. It fails only when the expected scan cannot be drawn.
func PlanHTML(p result.Plan, style plots.Style) ([]byte, error) {
	v := planView{Style: template.CSS(pageStyle + seriesStyle), Sentence: PlanSentence(p), How: planHow(p.Scan), Absorption: plain(p.Absorption.Advice), Warnings: allPlain(p.Warnings), Checklist: allPlain(p.Checklist)}
	if p.Earlier != nil {
		for _, f := range p.Earlier.Wrong {
			v.Wrong = append(v.Wrong, result.EarlierFault{Code: plain(f.Code), Text: plain(f.Text), Change: plain(f.Change)})
		}
	}
	pattern, err := plots.PlannedPattern(p, style)
	if err != nil {
		return nil, err
	}
	for _, f := range []*plots.Figure{pattern, plots.FootprintFigure(p, style), plots.Depths(p, style)} {
		if f != nil {
			v.Figures = append(v.Figures, seriesFigure{template.HTML(f.InlineSVG()), f.Description()})
		}
	}
	for _, t := range planTables(p) {
		if len(t.rows) > 1 {
			v.Tables = append(v.Tables, planTable{t.title, t.rows[0], t.rows[1:]})
		}
	}
	var b bytes.Buffer
	err = planPage.Execute(&b, v)
	return b.Bytes(), err
}

func allPlain(texts []string) (out []string) {
	for _, s := range texts {
		out = append(out, plain(s))
	}
	return out
}

// PlanSentence sums a plan up: which phases such a scan would show.
func PlanSentence(p result.Plan) string {
	var seen, hidden []string
	for _, ph := range p.Phases {
		switch {
		case ph.Limit == nil || ph.WeightPercent < *ph.Limit:
			hidden = append(hidden, fmt.Sprintf("%s (%g wt%%, limit %s)", plain(ph.Name), ph.WeightPercent, brief(ph.Limit)))
		default:
			seen = append(seen, fmt.Sprintf("%s %g ± %s wt%%", plain(ph.Name), ph.WeightPercent, brief(ph.Half)))
		}
	}
	switch {
	case len(seen) == 0:
		return "This scan would show none of the phases."
	case len(hidden) == 0:
		return fmt.Sprintf("This scan would show %s.", list(seen))
	}
	return fmt.Sprintf("This scan would show %s, and not %s.", list(seen), list(hidden))
}

func planHow(s result.PlannedScan) string {
	return fmt.Sprintf("%s Kα, %g° to %g°, step %g°, %g s per step (%s h), slit %s, radius %g mm. Rates: %.4g counts/s at the top of corundum 113, background %.4g counts/s (%s).",
		plain(s.Radiation), s.TwoThetaMin, s.TwoThetaMax, s.Step, s.TimeS, brief(&s.TotalHours), plain(orDash(s.Slit)), s.RadiusMM, s.Rate, s.Background, plain(s.From))
}

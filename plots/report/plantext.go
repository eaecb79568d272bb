package report

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"phasetally/xrd/result"
)

// PlanText writes a plan as text: what the scan will show, and what to do at the bench.
func PlanText(w io.Writer, p result.Plan) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, "%s\n%s\n", PlanSentence(p), planHow(p.Scan))
	table := func(title string, rows [][]string) {
		if len(rows) < 2 {
			return
		}
		fmt.Fprintf(out, "\n%s\n", title)
		t := tabwriter.NewWriter(out, 0, 4, 2, ' ', tabwriter.AlignRight)
		for _, r := range rows {
			fmt.Fprintln(t, "  "+strings.Join(r, "\t")+"\t")
		}
		t.Flush()
	}
	if len(p.Warnings) > 0 {
		fmt.Fprintln(out)
	}
	for _, text := range p.Warnings {
		fmt.Fprintf(out, "Caution: %s\n", plain(text))
	}
	for _, t := range planTables(p) {
		table(t.title, t.rows)
	}
	if p.Absorption.Advice != "" {
		fmt.Fprintf(out, "\nAbsorption in grains: %s\n", plain(p.Absorption.Advice))
	}
	if e := p.Earlier; e != nil {
		fmt.Fprintf(out, "\nThe earlier scan%s:\n", quoted(e.Sample))
		for _, f := range e.Wrong {
			fmt.Fprintf(out, "  %s\n    → %s [%s]\n", plain(f.Text), plain(f.Change), plain(f.Code))
		}
		if len(e.Wrong) == 0 {
			fmt.Fprintln(out, "  nothing went wrong that its analysis knows of")
		}
	}
	fmt.Fprintln(out, "\nAt the bench")
	for i, c := range p.Checklist {
		fmt.Fprintf(out, "  %d. %s\n", i+1, plain(c))
	}
	return out.Flush()
}

// titledRows is a table with its head as the first row.
type titledRows struct {
	title string
	rows  [][]string
}

// planTables are the tables of a plan; names from files cannot steer what shows them.
func planTables(p result.Plan) []titledRows {
	tables := []titledRows{
		{"What the scan will show (wt%; half widths of 95 % intervals; s per step for what is wanted)", planRows(p)},
		{"Depth (µm) of 50, 95 and 99 % of the signal at the strongest line, in the phase and in the mean of the specimen", depthRows(p)},
		{"Footprint", footprintRows(p)}, {"What the mount adds", mountRows(p)}, {"Grains", grainRows(p)}, {"Free lines", freeRows(p)},
		{"Tubes, at the same count rate of corundum", tubeRows(p)},
	}
	for _, t := range tables {
		for _, r := range t.rows {
			for k := range r {
				r[k] = plain(r[k])
			}
		}
	}
	return tables
}

func mountRows(p result.Plan) [][]string {
	rows := [][]string{{"material", "what", "2θ", "where the beam is longer"}}
	for _, m := range p.Footprint.Mount {
		where := "no"
		if m.Below {
			where = "yes"
		}
		rows = append(rows, []string{m.Material, m.Kind, fmt.Sprintf("%.1f°", m.TwoTheta), where})
	}
	return rows
}

// freeRows names the strongest lines that stand free.
func freeRows(p result.Plan) [][]string {
	rows := [][]string{{"phase", "2θ (h k l)"}}
	for _, ph := range p.Phases {
		var at []string
		for _, l := range ph.Lines {
			if l.Free && len(at) < 5 {
				at = append(at, fmt.Sprintf("%.2f° (%s)", l.TwoTheta, l.HKL))
			}
		}
		if len(at) == 0 {
			at = []string{"none"}
		}
		rows = append(rows, []string{ph.Name, strings.Join(at, ", ")})
	}
	return rows
}

func quoted(s string) string {
	if s == "" {
		return ""
	}
	return " of " + plain(s)
}

func orDash(s string) string {
	if s == "" {
		return "not stated"
	}
	return s
}

// brief writes a number that may be unknown with two digits and no exponent.
func brief(v *float64) string {
	switch {
	case v == nil:
		return "–"
	case *v >= 10:
		return strconv.FormatFloat(math.Round(*v), 'f', 0, 64)
	}
	return strconv.FormatFloat(*v, 'g', 2, 64)
}

func planRows(p result.Plan) [][]string {
	rows := [][]string{{"phase", "wt%", "±", "± at best", "limit", "free lines", "s for limit", "s for ±"}}
	for _, ph := range p.Phases {
		rows = append(rows, []string{ph.Name, fmt.Sprintf("%g", ph.WeightPercent), brief(ph.Half), brief(ph.HalfFloor), brief(ph.Limit),
			fmt.Sprint(ph.Free), brief(ph.TimeForLimit), brief(ph.TimeForHalf)})
	}
	return rows
}

func depthRows(p result.Plan) [][]string {
	rows := [][]string{{"phase", "2θ", "50 %", "95 %", "99 %", "50 % (mean)", "95 %", "99 %"}}
	if p.Specimen.LayerUM != nil {
		rows[0] = append(rows[0], fmt.Sprintf("a layer of %g µm gives", *p.Specimen.LayerUM))
	}
	for _, ph := range p.Phases {
		r := []string{ph.Name, fmt.Sprintf("%.1f°", ph.Strongest)}
		for _, d := range append(ph.DepthUM[:], ph.InMixUM[:]...) {
			r = append(r, brief(&d))
		}
		if ph.LayerShare != nil {
			r = append(r, fmt.Sprintf("%.0f %%", 100**ph.LayerShare))
		}
		rows = append(rows, r)
	}
	return rows
}

func footprintRows(p result.Plan) [][]string {
	f := p.Footprint
	rows := [][]string{{"2θ", "mm lit", "of the beam on the specimen"}}
	for _, r := range f.Rows {
		rows = append(rows, []string{fmt.Sprintf("%g°", r.TwoTheta), fmt.Sprintf("%.1f", r.LengthMM), fmt.Sprintf("%.0f %%", 100*r.Share)})
	}
	if f.FullAbove != nil && *f.FullAbove > 0 {
		rows = append(rows, []string{fmt.Sprintf("%.1f°", *f.FullAbove), "", "all of it from here on"})
	}
	return rows
}

func grainRows(p result.Plan) [][]string {
	rows := [][]string{{"phase", "irradiated", "diffracting", "scatter", "spinning", "spots for 5 %"}}
	for _, ph := range p.Phases {
		if g := ph.Grains; g != nil {
			rows = append(rows, []string{ph.Name, brief(&g.Irradiated), brief(&g.Diffracting), fmt.Sprintf("%.0f %%", 100*g.Scatter),
				fmt.Sprintf("%.0f %%", 100*g.Spinning), fmt.Sprint(g.Spots)})
		}
	}
	return rows
}

func tubeRows(p result.Plan) [][]string {
	rows := [][]string{{"tube", "range", "fluorescing", "counts/s"}}
	for _, ph := range p.Phases {
		rows[0] = append(rows[0], "limit "+ph.Name)
	}
	for _, t := range p.Tubes {
		r := []string{t.Radiation, fmt.Sprintf("%.0f°–%.0f°", t.TwoThetaMin, t.TwoThetaMax), strings.Join(t.Glowing, " "), fmt.Sprintf("%.0f", t.Fluorescence)}
		for _, l := range t.Limits {
			r = append(r, brief(l))
		}
		rows = append(rows, r)
	}
	return rows
}

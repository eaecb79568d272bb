package resultfile

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"text/tabwriter"

	"phasetally/xrd/analysis"
	"phasetally/xrd/quantify"
)

// FactorsText tells factors in words: a table, how well mixtures repeat, and how far the composition of each mixture follows
// from the others.
func FactorsText(t analysis.FactorTable) []byte {
	var b strings.Builder
	c := t.Conditions
	fmt.Fprintf(&b, "Factors of %d phases from %s; that of %s is 1 by definition, since only ratios are known.\n", len(t.List), counted(len(t.Mixtures), "weighed mixture"), t.Reference)
	fmt.Fprintf(&b, "They hold for %s radiation, slit %s, %s, monochromator %s, preparation %s%s.\n\n", c.Radiation.Name, orNotStated(c.Slit), c.Geometry, c.Monochromator, orNotStated(c.Preparation), grainText(c.Grains))
	table := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(table, "phase\tfactor\t±\tRIR\tmixtures\tcorrelations\t\n")
	for i, x := range t.List {
		u := "reference"
		if x.ID != t.Reference {
			u = fmt.Sprintf("%.4f", x.Value*math.Sqrt(math.Max(0, t.Covariance[i][i])))
		}
		fmt.Fprintf(table, "%s\t%.4f\t%s\t%.3f\t%d\t%s\t\n", x.ID, x.Value, u, x.RIR, x.Mixtures, correlations(t.Factors, i))
	}
	table.Flush() // a strings.Builder does not fail
	fmt.Fprintf(&b, "\nOne more mixture departs from them by %.1f %% of each amount (one standard deviation, %.0f degrees of freedom).\n", 100*t.Repeatability, t.RepeatFreedom)
	if len(t.Mixtures) == 1 {
		b.WriteString("One mixture cannot check itself: that departure is what mounts and the scatter of its lines let expect. Weigh a second one.\n")
	}
	b.WriteString(trialsText(t.Mixtures))
	return []byte(b.String())
}

// trialsText tells how much better each mixture follows from the others with factors than without.
func trialsText(rows []analysis.MixtureRow) string {
	var b strings.Builder
	var before, after deviations
	for _, m := range rows {
		if !m.Complete {
			fmt.Fprintf(&b, "%s is explained only in part by what was weighed in; look at its analysis.\n", m.File)
		}
		if m.Departs {
			fmt.Fprintf(&b, "%s departs from the others by more than they differ among themselves: leave it out, unless what you will correct was measured and prepared like it.\n", m.File)
		}
	}
	table := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(table, "\nmixture\tphase\tweighed\twithout\twith\t\n")
	for _, m := range rows {
		if m.Trial == nil {
			continue
		}
		for k, w := range m.Trial.Percent {
			if w > 0 {
				before.add(m.Trial.Before[k] - w)
				after.add(m.Trial.After[k] - w)
				fmt.Fprintf(table, "%s\t%s\t%.2f\t%.2f\t%.2f\t\n", m.File, m.IDs[k], w, m.Trial.Before[k], m.Trial.After[k])
			}
		}
	}
	if before.n == 0 {
		b.WriteString("No mixture follows from the others, so that nothing shows how much better fractions get.\n")
		return b.String()
	}
	table.Flush() // a strings.Builder does not fail
	fmt.Fprintf(&b, "\nEach mixture from the factors of the others: %.2f wt%% RMSE (worst %.2f) without factors, %.2f (worst %.2f) with them.\n",
		before.rmse(), before.worst, after.rmse(), after.worst)
	if after.rmse() >= before.rmse() {
		b.WriteString("Factors make these mixtures no better: do not use them.\n")
	}
	return b.String()
}

// deviations are collected differences, wt%.
type deviations struct{ squares, worst, n float64 }

func (d *deviations) add(x float64) {
	d.squares, d.worst, d.n = d.squares+x*x, math.Max(d.worst, math.Abs(x)), d.n+1
}

func (d deviations) rmse() float64 { return math.Sqrt(d.squares / d.n) }

// correlations lists those of one factor with the ones before it.
func correlations(f quantify.Factors, i int) string {
	var out []string
	for j := range i {
		if d := f.Covariance[i][i] * f.Covariance[j][j]; d > 0 {
			out = append(out, fmt.Sprintf("%+.2f", f.Covariance[i][j]/math.Sqrt(d)))
		} else {
			out = append(out, "0")
		}
	}
	return strings.Join(out, " ")
}

// counted writes a number with its noun.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

func orNotStated(s string) string { return cmp.Or(s, "not stated") }

func grainText(grains string) string {
	if grains == "" {
		return ""
	}
	return ", grains " + grains + " µm"
}

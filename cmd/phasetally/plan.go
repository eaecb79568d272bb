package main

import (
	"encoding/json"
	"io"

	"github.com/spf13/cobra"

	"phasetally/plots/report"
	"phasetally/xrd/plan"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
)

func newPlan() *cobra.Command {
	var o options
	var preparation, from, language string
	q := plan.Request{Step: 0.02, Time: 1, Rate: 4000, Background: 20}
	c := &cobra.Command{
		Use:   "plan --phase ID=WT...",
		Short: "Can this scan see it? Footprint, depth, detection limits, time, grains, tubes, checklist",
		Long: `Say before a scan what it can show. The scan is calculated, fitted and judged as an analysis would: its limits and
intervals are those that the analysis of such a scan states. With --from, count rates and widths are those of an earlier
result of the same diffractometer; without, of --rate and --background.`,
		Example: `  phasetally plan --phase copper=94 --phase cu3sn-epsilon=5 --phase sic-6h=1 --slit fixed:1 --specimen-length 10 --mount epoxy --wanted-limit 0.5
  phasetally plan --phase iron-alpha=90 --phase cementite=10 --radiation best --intercept 8 --wanted-interval 0.5 --format json
  phasetally plan --phase copper --phase cu3sn-epsilon --composition Cu=80,Sn=20`,
		Args: noNames,
	}
	o.planFlags(c, &q)
	f := c.Flags()
	f.StringVar(&preparation, "preparation", "", "table of your own preparation materials (CSV) beside ours")
	f.StringVar(&from, "from", "", "result folder of an earlier scan of the same instrument: its rates, and what went wrong with it")
	f.StringVar(&o.out, "out", "", "page with figures to write (.html)")
	f.StringVar(&language, "language", "en", "of the labels of the figures: en or de")
	checked(c, func(c *cobra.Command, _ []string) error {
		_, err := o.planCheck(c, &q, language, preparation, from)
		return err
	})
	c.RunE = func(c *cobra.Command, _ []string) error {
		style, err := o.planCheck(c, &q, language, preparation, from)
		if err != nil {
			return err
		}
		p, err := plan.Run(c.Context(), q)
		if err != nil {
			return err
		}
		if o.out != "" {
			b, err := report.PlanHTML(p, style)
			if err != nil {
				return failure{err}
			}
			if err := resultfile.WriteFile(o.out, b); err != nil {
				return err
			}
		}
		return printPlan(c.OutOrStdout(), o.format, p)
	}
	return c
}

// planFlags are what a plan is asked about.
func (o *options) planFlags(c *cobra.Command, q *plan.Request) {
	settingsFlags(c)
	ofThisRun(c, "phase")
	f := c.Flags()
	f.StringArrayVar(&o.phases, "phase", nil, "phase and the wt% that is expected, ID=WT, or ID with --composition (repeatable)")
	f.StringVar(&o.composition, "composition", "", "measured chemistry in wt%, Cu=80,Sn=20±1, from which the wt% of phases given as --phase ID follow")
	f.StringVar(&o.radiation, "radiation", "Cu", "tube (Cr, Fe, Co, Cu, Mo, Ag), or best: compare all")
	f.StringVar(&o.monochromator, "monochromator", "", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&o.slit, "slit", "", "divergence slit: fixed:DEGREES or automatic:MM")
	f.Float64Var(&o.radius, "radius", 0, "goniometer radius, mm (default 200)")
	f.StringVar(&o.instrument, "instrument", "", "instrument file that calibrate wrote")
	f.Float64Var(&q.BeamWidth, "beam-width", 0, "width of the beam across, mm (default 10)")
	f.Float64Var(&q.Length, "specimen-length", 0, "length of the specimen along the beam, mm (default: longer than the beam)")
	f.Float64Var(&q.Width, "specimen-width", 0, "width of the specimen across the beam, mm (default: wider)")
	f.Float64Var(&q.Wire, "wire", 0, "diameter of a wire, mm, instead of length and width")
	f.IntVar(&q.Pieces, "pieces", 0, "how many wires lie side by side")
	f.StringVar(&o.section, "section", "", "transverse, longitudinal, rolled or powder")
	f.StringVar(&q.Mount, "mount", "", "what holds the specimen: its halo and lines are told")
	f.Float64Var(&q.Intercept, "intercept", 0, "mean intercept of the grains, µm")
	f.Float64Var(&q.Layer, "layer", 0, "thickness of a layer, µm, whose share of the signal is wanted")
	o.collectionFlags(c)
	f.StringVar(&o.span, "range", "20:100", "LO:HI degrees 2θ")
	f.Float64Var(&q.Step, "step", q.Step, "degrees 2θ")
	f.Float64Var(&q.Time, "time", q.Time, "s per step")
	f.Float64Var(&q.Rate, "rate", q.Rate, "counts/s at the top of corundum 113, pure, on this diffractometer")
	f.Float64Var(&q.Background, "background", q.Background, "counts/s without fluorescence")
	f.BoolVar(&q.Discriminates, "no-fluorescence", false, "a monochromator or the detector keeps fluorescence out")
	f.Float64Var(&q.WantedLimit, "wanted-limit", 0, "detection limit that is wanted, wt%")
	f.Float64Var(&q.WantedHalf, "wanted-interval", 0, "half width of the 95 % interval that is wanted, wt%")
	f.StringVar(&o.format, "format", "text", "what to print: text or json")
	f.BoolVar(&o.force, "force", false, "replace an existing page")
}

func printPlan(w io.Writer, format string, p result.Plan) error {
	if format == "text" {
		return report.PlanText(w, p)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	return e.Encode(p)
}

package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/plan"
)

// planTubes computes the phases for the tube, and for all tubes when the best is asked for.
func (o *options) planTubes(c *cobra.Command, q *plan.Request, first xrd.Radiation, best bool) error {
	ids, weights, err := o.planned()
	if err != nil {
		return err
	}
	lookup := options{libraries: o.libraries, noStarter: o.noStarter, phases: ids}
	lib, err := lookup.loadCollection(c.Context(), nil, c.ErrOrStderr())
	if err != nil {
		return err
	}
	defer lib.Close()
	q.WeightPercent, q.References = weights, lib.Len()
	tubes := []xrd.Radiation{first}
	for _, r := range xrd.Anodes() {
		if best && !r.SameTube(first) {
			tubes = append(tubes, r)
		}
	}
	for _, r := range tubes {
		t := plan.Tube{Radiation: r}
		if t.Phases, err = o.tubePhases(lib, ids, r); err != nil {
			return err
		}
		q.Tubes = append(q.Tubes, t)
	}
	if o.composition != "" {
		if q.WeightPercent, err = o.composed(q.Tubes[0].Phases); err != nil {
			return err
		}
	}
	if q.Earlier == nil {
		return nil
	}
	var known []string
	for _, p := range q.Earlier.Document.Phases {
		if _, ok := lib.Find(p.ID); ok {
			known = append(known, p.ID)
		}
	}
	q.EarlierPhases, err = o.tubePhases(lib, known, first)
	return err
}

func (o *options) tubePhases(lib *library.Library, ids []string, r xrd.Radiation) ([]refdata.Phase, error) {
	mono, err := xrd.ParseMonochromator(o.monochromator, r)
	if err != nil {
		return nil, fmt.Errorf("--monochromator: %w", err)
	}
	var out []refdata.Phase
	for _, id := range ids {
		p, err := phaseOf(lib, id, refdata.Beam{Radiation: r, Monochromator: mono, MaxTwoTheta: 165})
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

package analysis

import (
	"context"
	"fmt"
	"slices"

	"phasetally/refdata/library"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// An explanation is which phases explain a scan, with what was decided on the way.
type explanation struct {
	identified *identify.Explanation // nil when no phase was looked for
	decided    diagnose.Decisions
	slitShift  []float64         // of the logarithm of each scale for one standard uncertainty of the slit that was fitted; nil for none
	cover      identify.Coverage // how far the phases account for the scan
	left       []leftover        // peaks that neither a phase nor another wavelength explains
}

// explain identifies the phases of a scan, or fits the named ones. It begins anew without a named phase that another stands
// for, and without an anchor that does not hold.
func explain(ctx context.Context, p prepared, g given) (explanation, error) {
	var e explanation
	var err error
	e.decided.Slit = g.slit
	if e.decided.Twins, err = p.pairTwins(e.decided); err != nil {
		return e, err
	}
	for done := false; !done; {
		if e, done, err = p.attempt(ctx, e, g.stands); err != nil {
			return e, err
		}
	}
	if len(p.found.Peaks) == 0 { // a hump that a phase is fitted to is none of its lines
		for i := range e.identified.Matches {
			e.identified.Matches[i].Evidence = result.Named
		}
	}
	e.left, e.cover = leftovers(p.found.Peaks, e.identified)
	if e.decided.Tube, err = p.otherTube(ctx, e); err != nil {
		return e, err
	}
	e.slitShift, err = checkSlit(ctx, e.identified, e.decided.Slit)
	return e, err
}

// attempt explains a scan once, with what earlier attempts have decided. It is not done when it decides that another one
// must follow.
func (p prepared) attempt(ctx context.Context, e explanation, slitStands bool) (after explanation, done bool, err error) {
	question, err := p.question(e.decided)
	if err != nil {
		return e, false, err
	}
	named := len(p.job.Phases) > 0
	slitStands = slitStands || e.decided.Slit != nil || p.slitKnown()
	if named {
		p.tell(nil, fmt.Sprintf("fitting %d phases", len(question.Filter.Require)))
		e.identified, err = p.fitNamed(ctx, question)
	} else {
		p.tell(nil, fmt.Sprintf("looking for phases among %d", p.job.Collection.Len()))
		e.identified, e.decided.Slit, err = search(ctx, question, e.decided.Slit, slitStands)
		slitStands = slitStands || e.decided.Slit != nil
	}
	if err != nil {
		return e, false, err
	}
	if t, ok := p.job.twinOf(e.identified); ok {
		e.decided.Twins = append(slices.Clone(e.decided.Twins), t)
		return e, false, nil
	}
	if len(e.identified.Matches) == 0 {
		return e, true, nil
	}
	fit := e.identified.Fit
	if !named {
		p.tell(e.identified, "refining what was found")
		if fit, err = quantify.Refine(ctx, fit); err != nil {
			return e, false, err
		}
	}
	if !slitStands {
		if fit, e.decided.Slit, err = correctSlit(ctx, fit); err != nil {
			return e, false, err
		}
	}
	e.identified.Take(fit) // words, reasons and lines are those of one fit: the last
	e.decided.Anchor, err = falseAnchor(ctx, e.identified, e.decided.Anchor)
	return e, e.decided.Anchor == nil || e.identified.Fit.Setup.Anchor == "", err
}

// question is what is asked of package identify: the phases that may be named and those that must be.
func (p prepared) question(d diagnose.Decisions) (identify.Job, error) {
	job := p.job
	isTwin := func(id string) bool { return isTwin(d.Twins, id) }
	named := slices.DeleteFunc(job.named(), isTwin)
	filter, collection := job.Filter, job.Collection
	if len(job.Phases) > 0 {
		filter = identify.Filter{Require: named, Own: filter.Own}
		only, err := subsetOf(collection, named)
		if err != nil {
			return identify.Job{}, err
		}
		collection = only
	} else {
		filter.Require = slices.DeleteFunc(append(append([]string{}, filter.Require...), named...), isTwin)
	}
	if err := job.checkIDs(); err != nil {
		return identify.Job{}, err
	}
	for _, id := range filter.Require {
		if _, err := Find(collection, id); err != nil {
			return identify.Job{}, err
		}
	}
	return identify.Job{Setup: p.setup(d), Beam: p.beam, Collection: collection, Known: library.Starter(), Filter: filter, Peaks: p.found.Peaks, Workers: job.Workers, Progress: job.Progress}, nil
}

// checkIDs returns an error for ids of grains, watched phases and phases set aside that the collection does not have.
func (j Job) checkIDs() error {
	var ids []string
	for _, g := range j.Grains {
		if g.ID != "" {
			ids = append(ids, g.ID)
		}
	}
	for _, id := range slices.Concat(ids, j.Watch, j.Aside) {
		if _, err := Find(j.Collection, id); err != nil {
			return err
		}
	}
	return j.checkMicrograph()
}

// fitNamed fits the phases that the job names, for fractions.
func (p prepared) fitNamed(ctx context.Context, question identify.Job) (*identify.Explanation, error) {
	out, set, err := identify.Given(question)
	if err != nil || len(out.Matches) == 0 {
		return out, err
	}
	if p.job.Begin != nil {
		p.job.Begin().apply(&set)
	}
	fit, err := quantify.FitKnown(ctx, set)
	if err != nil {
		return nil, err
	}
	out.Take(fit)
	return out, nil
}

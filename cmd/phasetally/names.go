package main

import (
	"fmt"
	"slices"
	"strings"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
)

// useIDs puts ids in the place of the names that phases were given by, and tells all names at once that mean none.
func (o *options) useIDs(lib *library.Library) error {
	var wrong troubles
	id := func(flag, name string) string { return wrong.idOf(lib, flag, name) }
	for flag, names := range map[string]*[]string{"--phase": &o.phases, "--require": &o.require, "--exclude": &o.exclude, "--watch": &o.watch, "--aside": &o.aside, "--solid-solution": &o.solutions} {
		var ids []string
		for _, name := range *names {
			if one := id(flag, name); !slices.Contains(ids, one) {
				ids = append(ids, one)
			}
		}
		*names = ids
	}
	if o.anchor != "" {
		o.anchor = id("--anchor", o.anchor)
	}
	if name, wt, given := strings.Cut(o.spike, "="); given {
		o.spike = id("--spike", name) + "=" + wt
	}
	if i := strings.LastIndexByte(o.kStandard, '='); i >= 0 && i < len(o.kStandard)-1 {
		o.kStandard = o.kStandard[:i+1] + id("--k-standard", o.kStandard[i+1:])
	}
	for i, grain := range o.grains {
		if size, name, given := strings.Cut(grain, ":"); given {
			o.grains[i] = size + ":" + id("--grain", name)
		}
	}
	o.intercepts = withIDs(o.intercepts, ":", func(size, name string) string { return size + ":" + id("--intercept", name) })
	o.areas = withIDs(o.areas, "=", func(name, percent string) string { return id("--area", name) + "=" + percent })
	slices.SortFunc(wrong, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
	return wrong.err()
}

// idOf returns the id of the phase that a flag names; a name that means none is noted and given back.
func (t *troubles) idOf(lib *library.Library, flag, name string) string {
	i, err := lib.Lookup(name)
	if err != nil {
		t.note(fmt.Errorf("%s: %w", flag, err))
		return name
	}
	return lib.Entry(i).ID
}

// withIDs rewrites each of the entries, which may also be joined by commas, that has a separator.
func withIDs(list []string, separator string, rewrite func(before, after string) string) []string {
	var out []string
	for _, s := range list {
		for part := range strings.SplitSeq(s, ",") {
			if before, after, given := strings.Cut(part, separator); given {
				part = rewrite(strings.TrimSpace(before), strings.TrimSpace(after))
			}
			out = append(out, part)
		}
	}
	return out
}

// name gives a job that was read before the reference data the ids.
func (o *options) name(job *analysis.Job) (err error) {
	job.Phases, job.Anchor, job.Watch, job.Aside = o.phases, o.anchor, o.watch, o.aside
	job.Filter.Require, job.Filter.Exclude = o.require, o.exclude
	if job.Spike != nil {
		job.Spike.ID, _, _ = strings.Cut(o.spike, "=")
	}
	if job.External != nil && job.External.Scan.TwoTheta != nil {
		job.External.ID = o.kStandard[strings.LastIndexByte(o.kStandard, '=')+1:]
	}
	if job.Grains, err = parseGrains(o.grains); err != nil {
		return err
	}
	return o.fillMicrograph(job)
}

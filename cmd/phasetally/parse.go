package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd/analysis"
)

// fill sets the parts of a job that come from flags; the scan is already in it.
func (o *options) fill(job *analysis.Job) error {
	var wrong troubles
	var err error
	if o.span != "" {
		job.Range, err = parseRange("--range", o.span)
		wrong.note(err)
	}
	for _, m := range o.masks {
		r, err := parseRange("--mask", m)
		wrong.note(err)
		job.Masks = append(job.Masks, r)
	}
	job.Filter.Elements, err = parseElements(o.elements)
	wrong.note(err)
	if o.strict && len(o.elements) == 0 {
		wrong.note(errors.New("--strict-elements: say which elements with --elements, as in --elements Cu,Sn --strict-elements"))
	}
	job.Filter.Strict, job.Filter.Require, job.Filter.Exclude = o.strict, o.require, o.exclude
	job.Phases, job.Workers, job.Anchor = o.phases, o.jobs, o.anchor
	job.Composition, err = parseComposition(o.composition)
	wrong.note(err)
	wrong.note(o.checkNumbers())
	job.Watch, job.Thickness, job.WantedLimit = o.watch, o.thickness, o.wanted
	job.Grains, err = parseGrains(o.grains)
	wrong.note(err)
	job.Factors, err = o.loadFactors()
	wrong.note(err)
	wrong.note(o.fillMicrograph(job))
	wrong.note(o.fillStandard(job))
	return wrong.err()
}

// checkNumbers refuses numbers that cannot be meant.
func (o *options) checkNumbers() error {
	var wrong troubles
	if o.jobs < 0 {
		wrong.note(fmt.Errorf("--jobs %d: give how many cores to use, 0 for the default", o.jobs))
	}
	if !(o.thickness >= 0 && o.thickness <= longest) {
		wrong.note(fmt.Errorf("--thickness %g: give a length in mm, above 0 and up to %d", o.thickness, longest))
	}
	if !(o.wanted >= 0 && o.wanted <= 100) {
		wrong.note(fmt.Errorf("--wanted-limit %g: give wt%% above 0 and up to 100", o.wanted))
	}
	return wrong.err()
}

// parseRange understands LO:HI in degrees.
func parseRange(flag, s string) ([2]float64, error) {
	a, b, ok := strings.Cut(s, ":")
	lo, err1 := strconv.ParseFloat(strings.TrimSpace(a), 64)
	hi, err2 := strconv.ParseFloat(strings.TrimSpace(b), 64)
	if !ok || errors.Join(err1, err2) != nil || !(lo < hi) {
		return [2]float64{}, fmt.Errorf("%s %q: give two angles in degrees 2θ, LO:HI, as in %s 20:100", flag, s, flag)
	}
	return [2]float64{lo, hi}, nil
}

func parseElements(symbols []string) (refdata.ElementSet, error) {
	var set refdata.ElementSet
	for _, s := range symbols {
		e, ok := element.Lookup(strings.TrimSpace(s))
		if !ok {
			return set, fmt.Errorf("--elements: %q is no element; give symbols, as in --elements Cu,Sn", s)
		}
		set = set.With(e.Z)
	}
	return set, nil
}

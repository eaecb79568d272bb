package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd/plan"
)

// planned returns the phases with the wt% that are given, or without where they follow from a composition.
func (o *options) planned() (ids []string, weights []float64, err error) {
	if o.composition == "" {
		return o.mixture()
	}
	if slices.ContainsFunc(o.phases, func(s string) bool { return strings.Contains(s, "=") }) {
		return nil, nil, errors.New("--composition: the wt% of the phases follow from it; give --phase ID without them")
	}
	return o.phases, nil, nil
}

// composed returns the wt% of phases that have the composition of the flag.
func (o *options) composed(phases []refdata.Phase) ([]float64, error) {
	list, err := parseComposition(o.composition)
	if err != nil {
		return nil, err
	}
	var c []plan.Element
	for _, e := range list {
		c = append(c, plan.Element{Symbol: e.Symbol, WeightPercent: e.WeightPercent, U: e.GivenU()})
	}
	w, err := plan.Amounts(phases, c)
	if err != nil {
		return nil, fmt.Errorf("--composition: %w", err)
	}
	return w, nil
}

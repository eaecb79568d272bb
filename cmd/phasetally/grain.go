package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"phasetally/xrd/analysis"
)

// parseGrains understands MICRON and MICRON:ID.
func parseGrains(list []string) ([]analysis.Grain, error) {
	var out []analysis.Grain
	for _, s := range list {
		size, id, _ := strings.Cut(s, ":")
		d, err := strconv.ParseFloat(strings.TrimSpace(size), 64)
		if err != nil || !(d > 0 && d <= 1000) {
			return nil, fmt.Errorf("--grain %q: give a diameter in µm above 0 and up to 1000, for one phase with its id, as in --grain 3:corundum", s)
		}
		if slices.ContainsFunc(out, func(g analysis.Grain) bool { return strings.EqualFold(g.ID, strings.TrimSpace(id)) }) {
			return nil, fmt.Errorf("--grain %q is the second for the same phase; give one", s)
		}
		out = append(out, analysis.Grain{ID: strings.TrimSpace(id), Diameter: d})
	}
	return out, nil
}

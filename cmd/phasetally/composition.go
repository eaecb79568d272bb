package main

import (
	"fmt"
	"strings"

	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// parseComposition understands Cu=88,Sn=10±1.
func parseComposition(s string) ([]analysis.ElementAmount, error) {
	var out []analysis.ElementAmount
	for part := range strings.SplitSeq(s, ",") {
		if s == "" {
			break
		}
		symbol, amount, ok := strings.Cut(strings.TrimSpace(part), "=")
		a := analysis.ElementAmount{Symbol: symbol}
		var err error
		a.WeightPercent, a.U, err = xrd.ParseUncertain(amount)
		if _, known := element.Lookup(symbol); !ok || !known || err != nil || !(a.WeightPercent >= 0 && a.WeightPercent <= 100) {
			return nil, fmt.Errorf("--composition %q: give symbols with wt%%, as in --composition Cu=88,Sn=10±1", part)
		}
		out = append(out, a)
	}
	if err := analysis.CheckChemistry(out); err != nil {
		return nil, fmt.Errorf("--composition %q: %w", s, err)
	}
	return out, nil
}

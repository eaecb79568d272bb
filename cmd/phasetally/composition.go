package main

import (
	"fmt"
	"math"
	"slices"
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
		if slices.ContainsFunc(out, func(o analysis.ElementAmount) bool { return strings.EqualFold(o.Symbol, symbol) }) {
			return nil, fmt.Errorf("--composition %q: %s is given twice; give each element once", s, symbol)
		}
		out = append(out, a)
	}
	return out, checkTotal(s, out)
}

// checkTotal refuses a chemistry of fractions of one, and one of more than the whole.
func checkTotal(s string, chemistry []analysis.ElementAmount) error {
	const slack = 0.05 // of the whole, by which analyses miss it
	total := 0.0
	for _, a := range chemistry {
		total += a.WeightPercent
	}
	switch {
	case len(chemistry) > 1 && math.Abs(total-1) < slack:
		return fmt.Errorf("--composition %q adds up to %.3g: give wt%%, not fractions, as in --composition Cu=88,Sn=10±1", s, total)
	case total > 100*(1+slack):
		return fmt.Errorf("--composition %q adds up to %.4g wt%%: give wt%% of the whole specimen", s, total)
	}
	return nil
}

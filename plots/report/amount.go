package report

import (
	"math"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// spanOrValue is an amount with its interval, or the interval alone where it runs from one limit to another; "" when it is not known.
func spanOrValue(v, lo, hi *float64, spanned bool) string {
	v, lo, hi = share(v), share(lo), share(hi)
	if spanned && lo != nil && hi != nil {
		n := plots.Decimals(lo, hi)
		return "between " + plots.Fixed(*lo, n) + " and " + plots.Fixed(*hi, n)
	}
	return plots.PlusMinus(v, lo, hi)
}

// doubt is the evidence of a phase in brackets where it is less than established.
func doubt(p result.Phase) string {
	if p.Evidence == result.Probable || p.Evidence == result.Tentative {
		return " (" + string(p.Evidence) + ")"
	}
	return ""
}

// share is a percentage as one that can be: an interval of what a standard makes absolute may reach below 0 and beyond 100, where no
// amount is.
func share(v *float64) *float64 {
	if v == nil {
		return nil
	}
	inside := math.Min(math.Max(*v, 0), 100)
	return &inside
}

// valueAndInterval are two cells of a table.
func valueAndInterval(v, lo, hi *float64) []string {
	v, lo, hi = share(v), share(lo), share(hi)
	n := plots.Decimals(lo, hi)
	return []string{fixed(v, n), interval(lo, hi, n)}
}

func interval(lo, hi *float64, n int) string {
	if lo == nil || hi == nil {
		return "?"
	}
	return plots.Fixed(*lo, n) + "–" + plots.Fixed(*hi, n)
}

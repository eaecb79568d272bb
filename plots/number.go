package plots

import (
	"math"
	"strconv"
)

// Decimals returns how many decimals a value deserves whose 95 % interval is lo to hi: the half-width keeps one
// significant digit, two when it begins with 1. Without a usable interval it returns 1.
func Decimals(lo, hi *float64) int {
	if lo == nil || hi == nil {
		return 1
	}
	half := (*hi - *lo) / 2
	if !(half > 0) || math.IsInf(half, 0) {
		return 1
	}
	exponent := math.Floor(math.Log10(half))
	if half/math.Pow(10, exponent) < 1.95 {
		exponent--
	}
	return int(min(max(-exponent, 0), 4))
}

// Amount returns a value with its 95 % interval, "31.4 (30.9–31.9)", digits as Decimals says; "31.4" without an
// interval and "" for an unknown value.
func Amount(v, lo, hi *float64) string {
	if !known(v) {
		return ""
	}
	n := Decimals(lo, hi)
	s := Fixed(*v, n)
	if known(lo) && known(hi) {
		s += " (" + Fixed(*lo, n) + "–" + Fixed(*hi, n) + ")"
	}
	return s
}

// PlusMinus returns "31.4 ± 0.5", the 95 % half-width, when the interval is nearly symmetric and Amount's form when it
// is not, as near 0 and 100 %.
func PlusMinus(v, lo, hi *float64) string {
	if !known(v) || !known(lo) || !known(hi) {
		return Amount(v, lo, hi)
	}
	up, down := *hi-*v, *v-*lo
	if !(math.Abs(up-down) <= 0.2*math.Max(up, down)) {
		return Amount(v, lo, hi)
	}
	n := Decimals(lo, hi)
	return Fixed(*v, n) + " ± " + Fixed((*hi-*lo)/2, n)
}

// Limit returns a detection limit with two significant digits, rounded up so that the promise holds.
func Limit(v float64) string {
	if !(v > 0) || math.IsInf(v, 0) {
		return "?"
	}
	step := math.Pow(10, math.Floor(math.Log10(v))-1)
	up := math.Ceil(v/step-1e-9) * step
	return strconv.FormatFloat(math.Round(up/step)*step, 'g', 3, 64)
}

// Fixed prints a value with n decimals and a true minus sign, never "−0".
func Fixed(v float64, n int) string {
	s := strconv.FormatFloat(v, 'f', n, 64)
	if s[0] != '-' {
		return s
	}
	if zero, err := strconv.ParseFloat(s, 64); err == nil && zero == 0 {
		return s[1:]
	}
	return "−" + s[1:]
}

// plain prints a tick value as briefly as it can be.
func plain(v float64) string {
	s := strconv.FormatFloat(v+0, 'f', -1, 64) // + 0 makes −0 plain
	if s[0] == '-' {
		return "−" + s[1:]
	}
	return s
}

func known(v *float64) bool { return v != nil && !math.IsNaN(*v) && !math.IsInf(*v, 0) }

func round9(v float64) float64 { return math.Round(v*1e9) / 1e9 }

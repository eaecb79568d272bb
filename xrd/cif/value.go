package cif

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A Value is one value as text. Lists and tables of CIF 2.0 are kept as their source text.
type Value struct {
	Text   string // without quotes
	Quoted bool   // it stood in quotes or in a text field, so that ? and . are ordinary text
	Line   int    // counted from 1; 0 for a value that was not read
}

// Unknown and Inapplicable are the values ? and . of CIF.
var (
	Unknown      = Value{Text: "?"}
	Inapplicable = Value{Text: "."}
)

// ErrNotANumber says that a value is not a number; test with errors.Is.
var ErrNotANumber = errors.New("not a number")

// Given reports whether there is a value: neither ? nor . without quotes.
func (v Value) Given() bool { return v.Quoted || v.Text != "?" && v.Text != "." }

// Number returns the number and its standard uncertainty, 0 when none is stated: 0.3521(2) is 0.3521 with 0.0002.
// The error is ErrNotANumber for anything that is not a finite decimal number.
func (v Value) Number() (value, su float64, err error) {
	text := strings.TrimSpace(v.Text)
	digits, bracket, has := strings.Cut(text, "(")
	exponent := ""
	if has {
		var rest string
		var closed bool
		if bracket, rest, closed = strings.Cut(bracket, ")"); !closed {
			return 0, 0, fmt.Errorf("%w: %q", ErrNotANumber, v.Text)
		}
		exponent = rest
	}
	value, err = decimal(digits + exponent)
	if err != nil || !has {
		return value, 0, err
	}
	if bracket == "" { // 0.5() is written by some programs for "not known"
		return value, 0, nil
	}
	su, err = decimal(bracket)
	if err != nil {
		return 0, 0, err
	}
	if _, fraction, dotted := strings.Cut(digits, "."); dotted && !strings.Contains(bracket, ".") {
		su /= math.Pow(10, float64(len(fraction)))
	}
	if exponent != "" {
		p, _ := strconv.Atoi(exponent[1:]) // decimal(digits + exponent) has accepted it
		su *= math.Pow(10, float64(p))
	}
	return value, su, nil
}

// decimal refuses what ParseFloat takes beyond decimal numbers: Inf, NaN, hexadecimal, underscores.
func decimal(s string) (float64, error) {
	if s == "" || strings.Trim(s, "0123456789+-.eE") != "" {
		return 0, fmt.Errorf("%w: %q", ErrNotANumber, s)
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, fmt.Errorf("%w: %q", ErrNotANumber, s)
	}
	return f, nil
}

// Text makes a value of any text.
func Text(s string) Value { return Value{Text: s, Quoted: true} }

// Number makes a value of a number with as many digits as it needs; NaN and infinities become Unknown.
func Number(f float64) Value {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return Unknown
	}
	return Value{Text: strconv.FormatFloat(f, 'g', -1, 64)}
}

// Rounded makes a value of a number with decimals digits after the point; NaN and infinities become Unknown.
func Rounded(f float64, decimals int) Value {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return Unknown
	}
	return Value{Text: strconv.FormatFloat(f, 'f', decimals, 64)}
}

// Measured makes a value of a number with its standard uncertainty in brackets, two digits of it when the first is 1
// (the rule of 19: Int. Tables G): 0.3521(2), 12.34(15), 1530(20). Without a positive uncertainty it is Number.
func Measured(f, su float64) Value {
	if !(su > 0) || math.IsInf(su, 0) || math.IsNaN(f) || math.IsInf(f, 0) {
		return Number(f)
	}
	power := int(math.Floor(math.Log10(su)))
	if su/math.Pow(10, float64(power)) < 1.95 {
		power--
	}
	if power > 0 {
		unit := math.Pow(10, float64(power))
		return Value{Text: fmt.Sprintf("%.0f(%.0f)", math.Round(f/unit)*unit, math.Round(su/unit)*unit)}
	}
	return Value{Text: fmt.Sprintf("%.*f(%.0f)", -power, f, su*math.Pow(10, float64(-power)))}
}

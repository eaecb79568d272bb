package xrd

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// ErrUnknownSlit says that a slit was not understood; test with errors.Is.
var ErrUnknownSlit = errors.New("unknown slit")

// ParseSlit understands "fixed:1.0" (opening in degrees), "automatic:10" (illuminated length in mm), and either word
// alone when the value is not known. It returns ErrUnknownSlit otherwise.
func ParseSlit(s string) (Slit, error) {
	word, number, stated := strings.Cut(strings.ToLower(strings.TrimSpace(s)), ":")
	slit, limit := Slit{}, 0.0
	switch strings.TrimSpace(word) {
	case "fixed":
		slit.Mode, limit = SlitFixed, 10
	case "automatic":
		slit.Mode, limit = SlitAutomatic, 200
	default:
		return Slit{}, fmt.Errorf("%w %q: give fixed:1.0 (degrees) or automatic:10 (mm lit)", ErrUnknownSlit, s)
	}
	if !stated {
		return slit, nil
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !(v > 0 && v <= limit) {
		return Slit{}, fmt.Errorf("%w %q: the value must be a number above 0, at most %g", ErrUnknownSlit, s, limit)
	}
	slit.Value = v
	return slit, nil
}

// String writes the slit as ParseSlit reads it; a slit that is not stated is the empty string.
func (s Slit) String() string {
	var word string
	switch s.Mode {
	case SlitFixed:
		word = "fixed"
	case SlitAutomatic:
		word = "automatic"
	default:
		return ""
	}
	if !(s.Value > 0) {
		return word
	}
	return word + ":" + strconv.FormatFloat(s.Value, 'g', -1, 64)
}

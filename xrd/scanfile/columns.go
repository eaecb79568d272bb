package scanfile

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"phasetally/xrd"
)

// comment returns what follows the mark of a comment line.
func comment(line string) (string, bool) {
	for _, mark := range []string{"#", "!", "%", ";", "*", "'", "//"} {
		if body, ok := strings.CutPrefix(line, mark); ok {
			return body, true
		}
	}
	return "", false
}

// splitColumns splits a trimmed line by the rules of the package comment.
func splitColumns(line string) []string {
	if strings.Contains(line, `"`) { // as spreadsheets quote numbers with decimal commas
		line = strings.ReplaceAll(strings.ReplaceAll(line, `","`, ";"), `"`, "")
	}
	switch {
	case strings.Contains(line, ";"):
		return trimmed(strings.Split(line, ";"))
	case strings.Contains(line, "\t"):
		return trimmed(strings.FieldsFunc(line, func(r rune) bool { return r == '\t' }))
	case !strings.Contains(line, ","):
		return strings.Fields(line)
	case !strings.ContainsFunc(line, unicode.IsSpace):
		return trimmed(strings.Split(line, ","))
	}
	fields := strings.Fields(line)
	if !commaAtEdge(fields) {
		return fields
	}
	return splitAtLooseCommas(fields)
}

// commaAtEdge reports whether a field begins or ends with a comma, which then separates columns.
func commaAtEdge(fields []string) bool {
	return slices.ContainsFunc(fields, func(f string) bool { return f[0] == ',' || f[len(f)-1] == ',' })
}

// splitAtLooseCommas takes commas that touch a space as part of the space.
func splitAtLooseCommas(fields []string) []string {
	var out []string
	for _, f := range fields {
		if f = strings.Trim(f, ","); f != "" {
			out = append(out, f)
		}
	}
	return out
}

// trimmed trims every field and drops empty ones at the end, which spreadsheets leave.
func trimmed(fields []string) []string {
	for i, f := range fields {
		fields[i] = strings.TrimSpace(f)
	}
	for len(fields) > 0 && fields[len(fields)-1] == "" {
		fields = fields[:len(fields)-1]
	}
	return fields
}

// numeric reports whether every field looks like a number, finite or not.
func numeric(fields []string) bool {
	for _, f := range fields {
		if _, err := parseNumber(f); err != nil {
			return false
		}
	}
	return len(fields) > 0
}

// separated reports whether fields that are not all numbers are an angle and an intensity with separators of thousands, as 1,234.5: a
// line of data that must not pass for a header.
func separated(fields []string) bool {
	if len(fields) < 2 || len(fields) > 3 {
		return false
	}
	angle, err := parseNumber(fields[0])
	return err == nil && angle >= 0 && angle <= 180 && !slices.ContainsFunc(fields[1:], func(s string) bool {
		return !strings.ContainsAny(s, "0123456789") || strings.Trim(s, "0123456789.,'’") != ""
	})
}

// numbers converts the fields of a data line and watches the decimal sign.
func (f *file) numbers(fields []string) ([]float64, error) {
	values := make([]float64, len(fields))
	for i, s := range fields {
		v, err := parseNumber(s)
		if err != nil {
			return nil, err
		}
		if v-v != 0 {
			return nil, fmt.Errorf("%q: %w", s, xrd.ErrNotFinite)
		}
		f.point = f.point || strings.Contains(s, ".")
		f.comma = f.comma || strings.Contains(s, ",")
		values[i] = v
	}
	if f.point && f.comma {
		return nil, ErrMixedDecimal
	}
	return values, nil
}

// parseNumber reads a decimal number with a point or one comma. NaN and infinities are numbers here, so that a line
// with one of them is recognised as data and refused for what it is. Hexadecimal and underscores are not numbers.
func parseNumber(s string) (float64, error) {
	if strings.ContainsAny(s, "xX_") || s == "" {
		return 0, fmt.Errorf("%q: %w", short(s), ErrNumber)
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", short(s), ErrNumber)
	}
	return v, nil
}

// short cuts a text that is quoted in an error.
func short(s string) string {
	if r := []rune(utf8Text(s)); len(r) > 30 {
		return string(r[:30]) + "…"
	}
	return utf8Text(s)
}

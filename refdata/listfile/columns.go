package listfile

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Errors of a list's columns; test with errors.Is.
var (
	ErrMissingColumn = errors.New("a required column is missing")
	ErrTwiceColumn   = errors.New("two columns have the same name")
)

// known are the columns in the order in which Write gives them.
var known = []string{"phase", "id", "formula", "h", "k", "l", "multiplicity", "f2", "families", "d", "two_theta", "intensity",
	"radiation", "monochromator", "rir", "rir_u", "rir_origin", "rir_basis", "rir_radiation", "density", "density_origin",
	"space_group", "a", "b", "c", "alpha", "beta", "gamma", "z", "mass_absorption", "preparation", "soluble", "confidence", "source", "cautions"}

// aliases are other spellings that spreadsheets of the trade use.
var aliases = map[string]string{"wavelength": "radiation", "2theta": "two_theta", "2θ": "two_theta", "twotheta": "two_theta",
	"d_spacing": "d", "i": "intensity", "i/ic": "rir", "spacegroup": "space_group", "solid_solution": "soluble"}

// columns says which cell of a row holds which column; unknown ones are named.
type columns struct {
	at      map[string]int
	unknown []string
}

// columnsOf reads the header row.
func columnsOf(header []string) (columns, error) {
	c := columns{at: map[string]int{}}
	for i, cell := range header {
		name := columnName(cell)
		if !slices.Contains(known, name) {
			if name != "" {
				c.unknown = append(c.unknown, strings.TrimSpace(cell))
			}
			continue
		}
		if _, twice := c.at[name]; twice {
			return c, fmt.Errorf("%w: %s", ErrTwiceColumn, name)
		}
		c.at[name] = i
	}
	for _, need := range [][]string{{"phase"}, {"d", "two_theta"}, {"intensity"}} {
		if !slices.ContainsFunc(need, c.has) {
			return c, fmt.Errorf("%w: %s; the columns are %s", ErrMissingColumn, strings.Join(need, " or "), found(header))
		}
	}
	if !c.has("d") && !c.has("radiation") {
		return c, fmt.Errorf("%w: two_theta needs radiation or wavelength; the columns are %s", ErrMissingColumn, found(header))
	}
	return c, nil
}

func (c columns) has(name string) bool { _, ok := c.at[name]; return ok }

// columnName folds case, blanks, hyphens and a unit in brackets.
func columnName(cell string) string {
	name, _, _ := strings.Cut(strings.ToLower(cell), "(")
	name, _, _ = strings.Cut(name, "[")
	name = strings.Join(strings.FieldsFunc(name, func(r rune) bool { return r == ' ' || r == '-' || r == '_' || r == '\n' || r == '\t' }), "_")
	if other, ok := aliases[name]; ok {
		return other
	}
	return name
}

func found(header []string) string {
	var names []string
	for _, cell := range header {
		if s := strings.TrimSpace(cell); s != "" {
			names = append(names, fmt.Sprintf("%.40q", s))
		}
	}
	return strings.Join(names[:min(len(names), 40)], ", ")
}

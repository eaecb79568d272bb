package library

import (
	"errors"
	"fmt"
	"strings"
	"unicode"

	"phasetally/refdata"
)

// Why a name leads to no phase; test with errors.Is.
var (
	ErrUnknownID = errors.New("not in the reference data")
	ErrAmbiguous = errors.New("may mean several phases")
)

// Lookup returns the phase that a name means: its id, the name that is printed, its formula, or a name of chemistry, mineralogy or
// trade in English or German. A name that several phases have is ErrAmbiguous, and the error lists them; one that none has is
// ErrUnknownID, and the error says what to do. Another phase is never taken because it is spelt alike.
func (l *Library) Lookup(name string) (int, error) {
	if i, ok := l.Find(name); ok {
		return i, nil
	}
	for _, find := range []func(string) []int{l.printed, l.ofFormula, l.synonymous, l.ofVariety} {
		switch found := find(name); len(found) {
		case 0:
		case 1:
			return found[0], nil
		default:
			return -1, l.ambiguous(name, found)
		}
	}
	if near, ok := l.NearestID(name); ok {
		return -1, fmt.Errorf("%.60q is %w; did you mean %q?", name, ErrUnknownID, near)
	}
	return -1, fmt.Errorf("%.60q is %w; give its structure (CIF) or a reference list with --library", name, ErrUnknownID)
}

func (l *Library) ambiguous(name string, found []int) error {
	var ids []string
	for _, i := range found[:min(6, len(found))] {
		ids = append(ids, l.id(i))
	}
	more := ""
	if len(found) > len(ids) {
		more = fmt.Sprintf(" and %d more", len(found)-len(ids))
	}
	return fmt.Errorf("%.60q %w: %s%s; give one of the ids", name, ErrAmbiguous, strings.Join(ids, ", "), more)
}

// printed finds phases by the name or the id, however it is written.
func (l *Library) printed(name string) (found []int) {
	want := refdata.FoldName(name)
	if want == "" {
		return nil
	}
	for i := range l.origins {
		if e := l.Entry(i); refdata.FoldName(e.Name) == want || refdata.FoldName(e.ID) == want {
			found = append(found, i)
		}
	}
	return found
}

// ofFormula finds phases by their composition. An element with a number is no formula: Bi2223 and C60 are other things than bismuth and
// diamond.
func (l *Library) ofFormula(name string) (found []int) {
	want, err := refdata.ParseFormula(name)
	if err != nil {
		return nil
	}
	elements := want.Elements()
	if elements.Len() == 1 && strings.ContainsFunc(name, unicode.IsDigit) {
		return nil
	}
	for i := range l.origins {
		e := l.Entry(i)
		if e.Elements != elements {
			continue
		}
		if have, err := refdata.ParseFormula(e.Formula); err == nil && have.Like(want, formulaDigits) {
			found = append(found, i)
		}
	}
	return found
}

// formulaDigits is how far atomic fractions of one formula differ by rounding.
const formulaDigits = 1e-3

// synonymous finds phases by the table of names.
func (l *Library) synonymous(name string) (found []int) {
	for _, id := range refdata.Synonyms(name) {
		if i, ok := l.Find(id); ok {
			found = append(found, i)
		}
	}
	return found
}

// ofVariety finds phases by a formula with Greek letters, of which theirs must be the same: "α-Fe", "Fe (gamma)", "η′-Cu6Sn5".
func (l *Library) ofVariety(name string) (found []int) {
	formula, letters := refdata.CutGreek(name)
	if letters == "" {
		return nil
	}
	for _, i := range l.ofFormula(formula) {
		if e := l.Entry(i); letters == greekOf(e.ID) || letters == greekOf(e.Name) {
			found = append(found, i)
		}
	}
	return found
}

func greekOf(name string) string {
	_, letters := refdata.CutGreek(name)
	return letters
}

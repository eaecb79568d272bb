package structure

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"phasetally/refdata"
)

// ErrSpaceGroup says that a space-group symbol was not understood; test with errors.Is.
var ErrSpaceGroup = errors.New("unknown space group")

// A Setting is one description of a space group: axes and origin.
type Setting struct {
	Number    int    // of International Tables A
	Symbol    string // Hermann–Mauguin
	Qualifier string // "1" or "2" for the origin, "H" or "R" for the axes, or empty
	Hall      string // its symbol
	Order     int    // number of operators
}

// String returns the symbol with its qualifier, "R -3 c:H".
func (s Setting) String() string {
	if s.Qualifier == "" {
		return s.Symbol
	}
	return s.Symbol + ":" + s.Qualifier
}

//go:embed data/settings.csv
var settingsCSV string

// settingTable holds all settings and the rows of each spelling, in order of preference.
type settingTable struct {
	rows     []Setting
	spelling map[string][]int
	hall     map[string]int
}

var settings = sync.OnceValue(func() *settingTable {
	t := &settingTable{spelling: map[string][]int{}, hall: map[string]int{}}
	r := csv.NewReader(strings.NewReader(settingsCSV))
	r.Comment = '#'
	records, _ := r.ReadAll() // a test has checked the embedded table
	for _, rec := range records[1:] {
		number, _ := strconv.Atoi(rec[0])
		order, _ := strconv.Atoi(rec[4])
		t.rows = append(t.rows, Setting{number, rec[1], rec[2], rec[3], order})
	}
	for i, s := range t.rows {
		t.add(squeeze(s.Symbol), i)
		if _, has := t.hall[s.Hall]; !has {
			t.hall[s.Hall] = i
		}
	}
	for _, axis := range []int{2, 3, 1} { // of a short monoclinic symbol b is the unique axis, else c, else a
		for i, s := range t.rows {
			if words := strings.Fields(s.Symbol); s.Number >= 3 && s.Number <= 15 && len(words) == 4 && words[axis] != "1" {
				t.add(squeeze(words[0]+words[axis]), i)
			}
		}
	}
	for i, s := range t.rows { // before 1992 the inversion of cubic groups was not written: F m 3 m
		if words := strings.Fields(s.Symbol); s.Number >= 195 && len(words) > 2 && words[2] == "-3" {
			words[2] = "3"
			t.add(squeeze(strings.Join(words, "")), i)
		}
	}
	return t
})

func (t *settingTable) add(key string, row int) {
	if !slices.Contains(t.spelling[key], row) {
		t.spelling[key] = append(t.spelling[key], row)
	}
}

// squeeze makes spellings comparable: lower case, no blanks, underscores, quotes or brackets.
func squeeze(symbol string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune(" \t_()'\"", r) {
			return -1
		}
		return r
	}, strings.ToLower(symbol))
}

// FindSettings returns the settings that a Hermann–Mauguin symbol in any common spelling may mean for a cell, best first: more than one
// only where the symbol leaves the origin or the unique axis open. Understood are blanks, underscores and brackets at will, either case, short monoclinic
// and full symbols, those before 1992 (F m 3 m) and after (C m c e), suffixes :1 :2 S Z for the origin and :H :R for the axes, and H for a
// hexagonal R. Axes of R groups are inferred from the cell otherwise. It returns ErrSpaceGroup when nothing fits.
func FindSettings(symbol string, cell refdata.Cell) ([]Setting, error) {
	name, qualifier := splitQualifier(strings.Trim(symbol, " \t'\""))
	rows := lookUp(name)
	if rows == nil && qualifier == "" && len(name) > 2 { // Fd-3mS, R-3cH
		if q := strings.ToUpper(name[len(name)-1:]); strings.Contains("SZHR", q) {
			qualifier = q
			rows = lookUp(name[:len(name)-1])
		}
	}
	if key := squeeze(name); rows == nil && strings.HasPrefix(key, "h") {
		rows, qualifier = lookUp("r"+key[1:]), "H"
	}
	if rows == nil {
		return nil, fmt.Errorf("%w %q", ErrSpaceGroup, symbol)
	}
	return choose(rows, originOf(qualifier), cell), nil
}

// StandardSettings returns the settings of a space-group number that International Tables put first, as FindSettings does.
func StandardSettings(number int, cell refdata.Cell) ([]Setting, error) {
	for _, s := range settings().rows {
		if s.Number == number {
			return FindSettings(s.Symbol, cell)
		}
	}
	return nil, fmt.Errorf("%w: number %d", ErrSpaceGroup, number)
}

// splitQualifier cuts off what follows a colon, or a last word S, Z, H or R.
func splitQualifier(symbol string) (name, qualifier string) {
	if name, q, ok := strings.Cut(symbol, ":"); ok {
		return name, strings.ToUpper(strings.TrimSpace(q))
	}
	words := strings.Fields(symbol)
	if n := len(words); n > 2 {
		if q := strings.ToUpper(words[n-1]); len(q) == 1 && strings.Contains("SZHR", q) {
			return strings.Join(words[:n-1], " "), q
		}
	}
	return symbol, ""
}

// originOf turns S and Z into 1 and 2, and drops what only repeats the axes (:b1).
func originOf(qualifier string) string {
	switch qualifier {
	case "S":
		return "1"
	case "Z":
		return "2"
	case "1", "2", "H", "R":
		return qualifier
	}
	return ""
}

func lookUp(name string) []int {
	t := settings()
	if rows := t.spelling[squeeze(name)]; rows != nil {
		return rows
	}
	if rows := t.spelling[squeeze(shortened(name))]; rows != nil {
		return rows
	}
	key := squeeze(name)
	if len(key) > 1 && strings.Contains(key[1:], "e") { // e: both glides, named by one of them before 1992
		for _, glide := range []string{"a", "b", "c"} {
			if rows := t.spelling[key[:1]+strings.ReplaceAll(key[1:], "e", glide)]; rows != nil {
				return rows
			}
		}
	}
	return nil
}

// shortened turns a full symbol into the usual one: P 21/n 21/m 21/a, P 63/m 2/m 2/c, F 4/m -3 2/m.
func shortened(name string) string {
	words := strings.Fields(name)
	if len(words) < 3 {
		return name
	}
	for i, w := range words[1:] {
		axis, plane, ok := strings.Cut(w, "/")
		if ok && (axis[0:min(1, len(axis))] == "2" || strings.HasPrefix(words[min(i+2, len(words)-1)], "-3")) {
			words[i+1] = plane
		}
	}
	return strings.Join(words, " ")
}

// choose narrows rows down by qualifier and cell.
func choose(rows []int, qualifier string, cell refdata.Cell) []Setting {
	var all, named, fitting []Setting
	hexagonal := math.Abs(cell.Gamma-120) < 1 && math.Abs(cell.Alpha-90) < 1
	for _, i := range rows {
		s := settings().rows[i]
		all = append(all, s)
		if s.Qualifier == qualifier && qualifier != "" {
			named = append(named, s)
		}
		if qualifier == "" && (s.Qualifier != "H" || hexagonal) && (s.Qualifier != "R" || !hexagonal) {
			fitting = append(fitting, s)
		}
	}
	switch {
	case named != nil:
		return named
	case fitting != nil:
		return fitting
	}
	return all
}

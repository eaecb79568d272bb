package refdata

import (
	_ "embed" // the table of names is compiled in
	"encoding/csv"
	"slices"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

//go:embed synonyms.csv
var synonymTable string

// greek spells out the letters that names of phases carry.
var greek = strings.NewReplacer("α", " alpha ", "β", " beta ", "γ", " gamma ", "δ", " delta ", "ε", " epsilon ", "ζ", " zeta ", "η", " eta ",
	"θ", " theta ", "σ", " sigma ", "′", " prime ", "₀", "0", "₁", "1", "₂", "2", "₃", "3", "₄", "4", "₅", "5", "₆", "6", "₇", "7", "₈", "8", "₉", "9")

// FoldName brings names that mean the same into one form: lower case, Greek letters spelt out, anything that is neither
// letter nor digit a single blank. "Bronze (α)" and "bronze-alpha" are one.
func FoldName(name string) string {
	words := strings.FieldsFunc(greek.Replace(strings.ToLower(norm.NFC.String(name))), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r)
	})
	return strings.Join(words, " ")
}

// CutGreek takes the Greek letters out of a name, written or spelt out: "η′-Cu6Sn5" gives "Cu6Sn5" and "eta prime".
func CutGreek(name string) (rest, letters string) {
	var others, found []string
	for _, word := range strings.FieldsFunc(greek.Replace(norm.NFC.String(name)), func(r rune) bool { return strings.ContainsRune(" \t-_,()[]", r) }) {
		if lower := strings.ToLower(word); isGreek(lower) {
			found = append(found, lower)
		} else {
			others = append(others, word)
		}
	}
	return strings.Join(others, " "), strings.Join(found, " ")
}

func isGreek(word string) bool {
	return slices.Contains([]string{"alpha", "beta", "gamma", "delta", "epsilon", "zeta", "eta", "theta", "sigma", "prime"}, word)
}

// Synonyms returns the ids of the phases of the starter collection that a name of chemistry, mineralogy or trade, English or
// German, may mean; none for a name that the table does not have.
func Synonyms(name string) []string { return synonyms()[FoldName(name)] }

var synonyms = sync.OnceValue(func() map[string][]string {
	r := csv.NewReader(strings.NewReader(synonymTable))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil { // a test reads the table
		panic("refdata: " + err.Error())
	}
	all := make(map[string][]string, len(rows))
	for _, row := range rows[1:] {
		all[FoldName(row[0])] = strings.Fields(row[1])
	}
	return all
})

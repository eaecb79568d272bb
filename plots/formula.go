package plots

import (
	"regexp"
	"strings"
)

// formulaWord is a word made of element symbols, numbers and brackets only: Cu6Sn5, Ca(OH)2, CaSO4·2H2O, YBa2Cu3O7−x.
var formulaWord = regexp.MustCompile(`^(?:[(\[]*[A-Z][a-z]?[,]?(?:\d+(?:\.\d+)?)?(?:[)\]](?:\d+(?:\.\d+)?)?)*(?:·\d*)?)+(?:[-−][xyδ])?$`)

// counted are the numbers of a formula that stand below the line, not those before a molecule.
var counted = regexp.MustCompile(`([A-Za-z)\]])(\d+(?:\.\d+)?)`)

// Lowered writes the numbers of every chemical formula among the words of a text as lower returns them; words that are no
// formula of at least two elements stay.
func Lowered(s string, lower func(number string) string) string {
	words := strings.Split(s, " ")
	for i, word := range words {
		w := strings.TrimRight(word, ",.;:")
		if strings.IndexFunc(w, upper) == strings.LastIndexFunc(w, upper) || !formulaWord.MatchString(w) {
			continue
		}
		words[i] = counted.ReplaceAllStringFunc(w, func(m string) string { return m[:1] + lower(m[1:]) }) + word[len(w):]
	}
	return strings.Join(words, " ")
}

func upper(r rune) bool { return r >= 'A' && r <= 'Z' }

var lowDigits = strings.NewReplacer("0", "₀", "1", "₁", "2", "₂", "3", "₃", "4", "₄", "5", "₅", "6", "₆", "7", "₇", "8", "₈", "9", "₉")

// Subscripts writes Cu6Sn5 (η) as Cu₆Sn₅ (η).
func Subscripts(s string) string { return Lowered(s, lowDigits.Replace) }

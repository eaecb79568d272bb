package listfile

import (
	"strings"
	"unicode"

	"phasetally/refdata"
	"phasetally/xrd"
)

// A List is one phase of a reference list, as the file gives it.
type List struct {
	ID, Name, Formula, SpaceGroup string         // as in refdata.Phase
	Radiation                     *xrd.Radiation // for which angles and intensities hold; nil when the file does not say
	Monochromator                 string         // as ParseMonochromator reads it; empty for none
	RIR                           refdata.RIR    // reference intensity ratio; zero: not stated
	Density                       float64        // g/cm³; 0 when not known
	DensityOrigin                 string         // computed or measured
	Cell                          *refdata.Cell  // nil when not known
	Z                             float64        // 0 when not known
	MassAbsorption                float64        // cm²/g; 0 when not known
	Preparation                   string         // as in refdata.Phase
	SolidSolution                 bool           `json:"Soluble"` // as in refdata.Phase
	Source, Confidence            string         // as in refdata.Phase
	Rows                          []Row          // lines of the list
	Cautions                      []xrd.Caution  // that the list has kept of the structure it was computed from
	Notes                         []string       // what the reader did not use, in words
}

// A Row is one line of the phase.
type Row struct {
	Line      int              // of the file, counted from 1
	D         float64          // Å
	Intensity float64          // strongest of the list = 100
	Families  []refdata.Family // empty when the indices are not known
}

// Slug returns the id of a name: lower case, every run of other signs than letters, digits and dots a hyphen.
func Slug(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) && r != '.'
	})
	return strings.Join(words, "-")
}

// Elements returns the elements of the formula; none when there is no formula that can be read.
func (l List) Elements() refdata.ElementSet {
	f, _ := refdata.ParseFormula(l.Formula)
	return f.Elements()
}

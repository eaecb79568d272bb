package refdata

import (
	"slices"
	"strings"

	"phasetally/refdata/element"
)

// A Hazard is what the dust of a phase, or what etches it, can do to those who prepare it.
type Hazard struct {
	Code string // the substance: lead, silica, beryllium, cadmium, chromium(VI), asbestos, nickel, arsenic
	Text string // in words
}

// hazards are those that are looked for, in the order in which they are told. What they say is common knowledge of
// laboratory safety, put generally (from memory); none of it replaces the safety data sheet.
var hazards = []struct {
	Hazard
	of func(name string, f Formula) bool
}{
	{Hazard{"lead", "Lead is poisonous as dust and as a solution: cut and grind it wet, keep dust off food and hands, collect waste and etchants."}, contains("Pb")},
	{Hazard{"silica", "Fine dust of crystalline silica causes silicosis and cancer: grind it wet or in a closed mill under extraction. The fraction is not an exposure measurement."}, isSilica},
	{Hazard{"beryllium", "Dust of beryllium, of its alloys and oxide, causes lung disease in smallest amounts: no dry grinding outside a laboratory made for it."}, contains("Be")},
	{Hazard{"cadmium", "Dust and solutions of cadmium are poisonous and cause cancer: grind wet under extraction, collect waste and etchants."}, contains("Cd")},
	{Hazard{"chromium(VI)", "Chromates cause cancer and allergy as dust and in solution: no dry grinding, gloves, collect waste."}, isChromate},
	{Hazard{"asbestos", "This mineral may be asbestos: do not crush or saw it; have fibres judged by an accredited laboratory. The fraction is not an exposure measurement."}, isAsbestos},
	{Hazard{"nickel", "Dust of nickel and its compounds causes cancer and allergy: grind wet under extraction, wear gloves."}, contains("Ni")},
	{Hazard{"arsenic", "Dust of arsenic compounds is poisonous and causes cancer, and acids may set free arsine from them: grind wet under extraction, no acid etchants outside a fume hood."}, contains("As")},
}

// Hazards returns what is known to be harmful of a phase by its formula and name; nil does not mean harmless.
func Hazards(p Phase) []Hazard {
	f, err := ParseFormula(p.Formula)
	if err != nil { // a formula with open amounts still names its elements
		f = nil
		for _, share := range p.Composition {
			if e, ok := element.Lookup(share.Symbol); ok {
				f = append(f, Amount{e, share.MassFraction})
			}
		}
	}
	var out []Hazard
	for _, h := range hazards {
		if h.of(strings.ToLower(p.Name), f) {
			out = append(out, h.Hazard)
		}
	}
	return out
}

func contains(symbol string) func(string, Formula) bool {
	return func(_ string, f Formula) bool { return f.atoms(symbol) > 0 }
}

// atoms returns how many atoms of an element there are, 0 for none.
func (f Formula) atoms(symbol string) float64 {
	for _, a := range f {
		if a.Element.Symbol == symbol {
			return a.Atoms
		}
	}
	return 0
}

func named(name string, words ...string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(name, w) })
}

// isSilica knows SiO2 of any structure.
func isSilica(name string, f Formula) bool {
	return len(f) == 2 && f.atoms("Si") > 0 && f.atoms("O") == 2*f.atoms("Si") || named(name, "quartz", "cristobalite", "tridymite", "coesite", "moganite", "chalcedony")
}

// isChromate knows chromium trioxide and salts with as much oxygen as chromates and dichromates hold, but no second acid.
func isChromate(name string, f Formula) bool {
	if named(name, "chromate", "crocoite", "chromium trioxide") {
		return true
	}
	cr := f.atoms("Cr")
	return cr > 0 && f.atoms("O") >= 3*cr && !slices.ContainsFunc(f, func(a Amount) bool {
		return slices.Contains([]string{"Si", "P", "S", "C", "B", "V", "Mo", "W", "As", "Se", "Te", "N", "H", "Al", "Fe", "Ti", "Nb", "Ta"}, a.Element.Symbol)
	})
}

// isAsbestos knows the six minerals that are called asbestos when they are fibrous, with their other names.
func isAsbestos(name string, _ Formula) bool {
	return named(name, "chrysotile", "riebeckite", "crocidolite", "grunerite", "amosite", "anthophyllite", "tremolite", "actinolite", "asbestos")
}

package result

import (
	"slices"
	"strings"
)

// A Reference is a publication that an analysis rests on.
type Reference struct {
	Key     string `json:"key"`     // short and stable: author and year, or the id of a phase
	For     string `json:"for"`     // what was taken from it
	Text    string `json:"text"`    // as a list of references prints it
	Authors string `json:"authors"` // joined by " and "; empty where only the text is known
	Journal string `json:"journal"` // its title; empty: none
	Volume  string `json:"volume"`  // as text; empty: none
	Year    string `json:"year"`    // as text; empty: not known
	Pages   string `json:"pages"`   // as text; empty: not known
}

// The publications of methods and tables, from memory: check them before printing.
var (
	wavelengths = Reference{"deslattes2003", "wavelengths (NIST SRD 128)", "R. D. Deslattes, E. G. Kessler, P. Indelicato et al., Rev. Mod. Phys. 75 (2003) 35–99.",
		"R. D. Deslattes and E. G. Kessler and P. Indelicato and others", "Rev. Mod. Phys.", "75", "2003", "35--99"}
	formFactors = Reference{"itc1992", "scattering factors", "International Tables for Crystallography, Vol. C, Kluwer, Dordrecht (1992).", "", "", "C", "1992", ""}
	dispersion  = Reference{"cromer1981", "dispersion corrections", "D. T. Cromer, D. A. Liberman, Acta Cryst. A37 (1981) 267–268.",
		"D. T. Cromer and D. A. Liberman", "Acta Cryst. A", "37", "1981", "267--268"}
	heavy = Reference{"chantler1995", "dispersion corrections of heavy elements", "C. T. Chantler, J. Phys. Chem. Ref. Data 24 (1995) 71–643.",
		"C. T. Chantler", "J. Phys. Chem. Ref. Data", "24", "1995", "71--643"}
	absorption = Reference{"cullen1997", "absorption coefficients (EPDL97)", "D. E. Cullen, J. H. Hubbell, L. Kissel, EPDL97: the Evaluated Photon Data Library, UCRL-50400 Vol. 6 Rev. 5 (1997).",
		"D. E. Cullen and J. H. Hubbell and L. Kissel", "UCRL-50400", "6", "1997", ""}
	profiles = Reference{"thompson1987", "profiles", "P. Thompson, D. E. Cox, J. B. Hastings, J. Appl. Cryst. 20 (1987) 79–83.",
		"P. Thompson and D. E. Cox and J. B. Hastings", "J. Appl. Cryst.", "20", "1987", "79--83"}
	projection = Reference{"golub1973", "separable least squares", "G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413–432.",
		"G. H. Golub and V. Pereyra", "SIAM J. Numer. Anal.", "10", "1973", "413--432"}
	orientation = Reference{"dollase1986", "preferred orientation", "W. A. Dollase, J. Appl. Cryst. 19 (1986) 267–272.",
		"W. A. Dollase", "J. Appl. Cryst.", "19", "1986", "267--272"}
	ratios = Reference{"chung1974", "normalised reference intensity ratios", "F. H. Chung, J. Appl. Cryst. 7 (1974) 526–531.",
		"F. H. Chung", "J. Appl. Cryst.", "7", "1974", "526--531"}
	external = Reference{"oconnor1988", "external standard", "B. H. O'Connor, M. D. Raven, Powder Diffr. 3 (1988) 2–6.",
		"B. H. O'Connor and M. D. Raven", "Powder Diffr.", "3", "1988", "2--6"}
	serial = Reference{"berar1991", "uncertainties under serial correlation", "J.-F. Bérar, P. Lelann, J. Appl. Cryst. 24 (1991) 1–5.",
		"J.-F. Bérar and P. Lelann", "J. Appl. Cryst.", "24", "1991", "1--5"}
	limits = Reference{"currie1968", "detection limits", "L. A. Currie, Anal. Chem. 40 (1968) 586–593.",
		"L. A. Currie", "Anal. Chem.", "40", "1968", "586--593"}
)

// References lists what a document rests on: methods and tables that were used, then the source of each phase's structure
// or lines.
func References(doc Document) []Reference {
	out := []Reference{wavelengths}
	if doc.Fit == nil {
		return out
	}
	out = append(out, profiles, projection)
	textured := func(p Phase) bool { return len(p.Texture) > 0 }
	if slices.ContainsFunc(doc.Phases, textured) {
		out = append(out, orientation)
	}
	computed := func(p Phase) bool { return strings.HasPrefix(p.RIROrigin, "computed") }
	if slices.ContainsFunc(doc.Phases, computed) {
		out = append(out, formFactors, dispersion, heavy, absorption)
	}
	if len(doc.Phases) > 0 {
		out = append(out, ratios)
	}
	if doc.Absolute != nil && doc.Absolute.KFactor != nil {
		out = append(out, external)
	}
	out = append(out, serial, limits)
	for _, p := range doc.Phases {
		if p.Source != "" {
			out = append(out, Reference{Key: p.ID, For: "reference data of " + p.Name, Text: p.Source})
		}
	}
	return out
}

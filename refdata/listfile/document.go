package listfile

import (
	"encoding/json"
	"io"
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
)

// DocumentSchema names the version of the JSON that WriteJSON writes.
const DocumentSchema = "phasetally.lines/1"

type document struct {
	Schema     string          `json:"schema"`
	Radiation  string          `json:"radiation"`
	Wavelength float64         `json:"wavelength"` // Kα1, Å
	Phases     []documentPhase `json:"phases"`
}

type documentPhase struct {
	ID         string         `json:"id"`
	Name       string         `json:"name"`
	Formula    string         `json:"formula"`
	SpaceGroup string         `json:"space_group"`
	Cell       *refdata.Cell  `json:"cell"`
	Volume     *float64       `json:"volume"`
	Z          *float64       `json:"z"`
	Density    *float64       `json:"density"`
	MuLinear   *float64       `json:"mu_linear_per_cm"`
	RIR        *float64       `json:"rir"`
	RIROrigin  string         `json:"rir_origin"`
	RIRBasis   string         `json:"rir_basis"`
	Source     string         `json:"source"`
	Confidence string         `json:"confidence"`
	Lines      []documentLine `json:"lines"`
	Cautions   []xrd.Caution  `json:"cautions"`
}

type documentLine struct {
	D            float64          `json:"d"`
	TwoTheta     float64          `json:"two_theta"`
	H            *int             `json:"h"`
	K            *int             `json:"k"`
	L            *int             `json:"l"`
	Multiplicity *int             `json:"multiplicity"` // of all families of the line together
	Intensity    float64          `json:"intensity"`
	Families     []documentFamily `json:"families"`
}

type documentFamily struct {
	H            int     `json:"h"`
	K            int     `json:"k"`
	L            int     `json:"l"`
	Multiplicity int     `json:"multiplicity"`
	F2           float64 `json:"f_squared"` // electrons²
}

// WriteJSON writes phases of one beam as a document of DocumentSchema; unknown quantities are null.
func WriteJSON(w io.Writer, beam refdata.Beam, phases []refdata.Phase) error {
	doc := document{Schema: DocumentSchema, Radiation: beam.Radiation.Name, Wavelength: beam.Radiation.KAlpha1, Phases: []documentPhase{}}
	for _, p := range phases {
		doc.Phases = append(doc.Phases, documentOf(p))
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(doc)
}

func documentOf(p refdata.Phase) documentPhase {
	out := documentPhase{ID: p.ID, Name: p.Name, Formula: p.Formula, SpaceGroup: p.SpaceGroup, Cell: p.Cell, Z: known0(p.Z),
		Density: known0(p.Density), MuLinear: known0(p.MuLinear()), RIR: known0(p.RIR.Value), RIROrigin: p.RIR.Origin, RIRBasis: p.RIR.Basis,
		Source: p.Source, Confidence: p.Confidence, Lines: []documentLine{}, Cautions: p.Cautions}
	if p.Cell != nil {
		out.Volume = known0(p.Cell.Volume())
	}
	if out.Cautions == nil {
		out.Cautions = []xrd.Caution{}
	}
	for _, l := range p.Lines {
		out.Lines = append(out.Lines, documentLineOf(l))
	}
	return out
}

func documentLineOf(l refdata.Line) documentLine {
	out := documentLine{D: l.D, TwoTheta: l.TwoTheta, Intensity: l.Intensity, Families: []documentFamily{}}
	sum := 0
	for _, f := range l.Families {
		out.Families = append(out.Families, documentFamily{f.H, f.K, f.L, f.Multiplicity, f.F2})
		sum += f.Multiplicity
	}
	if len(l.Families) > 0 {
		f := l.Families[0]
		out.H, out.K, out.L, out.Multiplicity = &f.H, &f.K, &f.L, &sum
	}
	return out
}

// known0 returns nil for a quantity that is not known, which a Phase holds as 0.
func known0(v float64) *float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

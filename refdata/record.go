package refdata

// An Atom is one site of a published structure.
type Atom struct {
	Label     string
	Element   string  // symbol; deuterium is H
	X, Y, Z   float64 // fractions of the cell edges
	Occupancy float64
	B         float64 // isotropic displacement parameter, Å²
}

// A Record is a structure as published, from which a Phase is computed for any beam.
type Record struct {
	ID, Name, Formula string
	SpaceGroup        string // Hermann–Mauguin symbol with setting (":H", ":1") or Hall symbol after "Hall: "
	Operators         []string
	Cell              Cell
	Atoms             []Atom
	Preparation       string  // see Phase
	SolidSolution     bool    `json:"Soluble"` // see Phase
	KnownDensity      float64 // g/cm³, known independently of this structure; 0 when not
	Source            string
	Confidence        string
	Strong            []StrongLine // strongest lines for screening, strongest first
}

// A StrongLine is a line as screening needs it: 8 bytes.
type StrongLine struct {
	D         float32 // Å
	Intensity float32 // strongest = 100, Cu Kα
}

// An Entry is what screening needs to know of a phase.
type Entry struct {
	ID, Name, Formula string
	Elements          ElementSet
	Strong            []StrongLine // strongest first
	Preparation       string
	SolidSolution     bool
}

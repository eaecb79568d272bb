package refdata

// An Atom is one site of a published structure.
type Atom struct {
	Label     string  // as published
	Element   string  // symbol; deuterium is H
	X, Y, Z   float64 // fractions of the cell edges
	Occupancy float64 // of the site, 0 to 1
	B         float64 // isotropic displacement parameter, Å²
}

// A Record is a structure as published, from which a Phase is computed for any beam.
type Record struct {
	ID, Name, Formula string       // as in Phase
	SpaceGroup        string       // Hermann–Mauguin symbol with setting (":H", ":1") or Hall symbol after "Hall: "
	Operators         []string     // "x, y, z"; nil: those of the space group
	Cell              Cell         // as published
	Atoms             []Atom       // of the asymmetric unit
	Preparation       string       // see Phase
	SolidSolution     bool         `json:"Soluble"` // see Phase
	KnownDensity      float64      // g/cm³, known independently of this structure; 0 when not
	Source            string       // where it was published
	Confidence        string       // in it, in words
	Strong            []StrongLine // strongest lines for screening, strongest first
}

// A StrongLine is a line as screening needs it: 8 bytes.
type StrongLine struct {
	D         float32 // Å
	Intensity float32 // strongest = 100, Cu Kα
}

// An Entry is what screening needs to know of a phase.
type Entry struct {
	ID, Name, Formula string       // as in Phase
	Elements          ElementSet   // that it consists of
	Strong            []StrongLine // strongest first
	Preparation       string       // as in Phase
	SolidSolution     bool         // as in Phase
}

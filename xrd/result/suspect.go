package result

// A Suspect is a phase that has a strong line near an angle.
type Suspect struct {
	Index       int     `json:"-"`           // in the collection
	ID          string  `json:"id"`          // of the reference
	Name        string  `json:"name"`        // of the phase
	Formula     string  `json:"formula"`     // of the reference
	D           float64 `json:"d"`           // of the line, Å
	TwoTheta    float64 `json:"two_theta"`   // of the line, degrees
	Intensity   float64 `json:"intensity"`   // strongest line = 100
	Rank        int     `json:"rank"`        // 1 for the phase's strongest line
	Preparation bool    `json:"preparation"` // on the watch-list
	Inside      bool    `json:"allowed"`     // by the filter
}

// A Candidate is a phase that could be added to those of an answer, calculated in its reference cell.
type Candidate struct {
	Suspect
	Significance float64   `json:"significance"` // of its pattern beside the phases of the answer: its scale over the standard uncertainty; 0 when it explains nothing
	Seen         int       `json:"seen"`         // of its strong lines in range, those with a peak at their place
	Expected     int       `json:"expected"`     // its strong lines in range
	Lines        []float64 `json:"lines"`        // where those are, degrees 2θ
	Decide       string    `json:"decide"`       // what would decide about it, in words
	Curve        []float64 `json:"-"`            // what it would add at most to the fit, parallel to the points of the curves
}

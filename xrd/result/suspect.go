package result

// A Suspect is a phase that has a strong line near an angle.
type Suspect struct {
	Index       int     `json:"-"` // in the collection
	ID          string  `json:"id"`
	Name        string  `json:"name"`
	Formula     string  `json:"formula"`
	D           float64 `json:"d"`           // of the line, Å
	TwoTheta    float64 `json:"two_theta"`   // of the line, degrees
	Intensity   float64 `json:"intensity"`   // strongest line = 100
	Rank        int     `json:"rank"`        // 1 for the phase's strongest line
	Preparation bool    `json:"preparation"` // on the watch-list
	Inside      bool    `json:"allowed"`     // by the filter
}

package result

// Factors tell by what the reference intensity ratios were multiplied, from mixtures of known composition.
type Factors struct {
	File          string     `json:"file"`          // name of the table
	SHA256        string     `json:"sha256"`        // of the table, hexadecimal
	Reference     string     `json:"reference"`     // id of the phase whose factor is 1 by definition
	Repeatability *float64   `json:"repeatability"` // relative standard deviation of the amounts of one more mixture
	Mixtures      []string   `json:"mixtures"`      // files that they were fitted to
	Phases        []FactorOf `json:"phases"`        // of the answer that have a factor
	Without       []string   `json:"without"`       // ids of those of the specimen that have none
	Differences   []string   `json:"differences"`   // of this scan from the conditions that they hold for, in words
}

// FactorOf is the factor of one phase.
type FactorOf struct {
	ID    string   `json:"id"`    // of the phase
	Value float64  `json:"value"` // what its reference intensity ratio is multiplied by, over that of the reference phase
	U     *float64 `json:"u"`     // standard uncertainty, relative to the reference
}

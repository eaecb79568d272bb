package result

import "phasetally/xrd"

// SeriesSchema names the version of Series.
const SeriesSchema = "phasetally.series/1"

// A Series is series.json: what is tidy of every scan. Unknown quantities are null.
type Series struct {
	Schema     string        `json:"schema"`             // always SeriesSchema
	Fixed      bool          `json:"phases_named"`       // the phases were named, not found
	Phases     []SeriesPhase `json:"phases"`             // that every scan was fitted with
	Conditions []string      `json:"conditions"`         // names of the columns of SeriesEntry.Conditions
	Numeric    []bool        `json:"conditions_numeric"` // parallel to conditions: all its cells are numbers
	Abscissa   string        `json:"abscissa"`           // the condition that trends are drawn against; "": the number of the scan
	Scans      []SeriesEntry `json:"scans"`              // in the order in which they were given
	Cautions   []xrd.Caution `json:"cautions"`           // about the series; those of a scan are in its own analysis
	Provenance Provenance    `json:"provenance"`         // how the series came about
}

// Repeats marks the scans whose bytes an earlier scan of the series has, too: they tell nothing new.
func (s Series) Repeats() []bool {
	seen, out := map[string]bool{}, make([]bool, len(s.Scans))
	for i, e := range s.Scans {
		out[i] = e.SHA256 != "" && seen[e.SHA256]
		seen[e.SHA256] = true
	}
	return out
}

// A SeriesPhase is a phase that every scan was fitted with.
type SeriesPhase struct {
	ID      string `json:"id"`      // of the reference
	Name    string `json:"name"`    // for people
	Formula string `json:"formula"` // of the reference

	Answers   int      `json:"answers"`                 // scans that have an answer
	Seen      int      `json:"seen"`                    // scans that show the phase; what follows is of these, wt%
	Mean      *float64 `json:"mean_weight_percent"`     // null: no fraction anywhere
	Deviation *float64 `json:"sd_weight_percent"`       // standard deviation of the sample; null: fewer than two
	Least     *float64 `json:"smallest_weight_percent"` // least of these, wt%; null: no fraction anywhere
	Most      *float64 `json:"largest_weight_percent"`  // largest of these, wt%; null as the least
}

// A SeriesEntry is one scan of a series.
type SeriesEntry struct {
	File             string        `json:"file"`               // name as it was given
	Fingerprint      string        `json:"fingerprint"`        // of the scan and of everything that steers its analysis
	Folder           string        `json:"folder"`             // of its own results, relative to that of the series; "": none
	HasReport        bool          `json:"has_report"`         // there is a page of this scan in its folder
	Sample           string        `json:"sample"`             // name of the specimen; empty: not known
	Simulated        string        `json:"simulated"`          // of a scan that was calculated: from what
	SHA256           string        `json:"sha256"`             // of the file, hexadecimal
	Error            string        `json:"error"`              // why there is no answer; "": there is one
	Stopped          bool          `json:"-"`                  // its turn did not come before the run ended; Error says so too
	Absorption       Absorption    `json:"absorption"`         // how absorption in grains was treated
	Conditions       []string      `json:"conditions"`         // as typed; empty: unknown
	Abscissa         *float64      `json:"abscissa"`           // where trends draw the scan; null: not known
	Radiation        string        `json:"radiation"`          // name of the tube
	Wavelength       *float64      `json:"wavelength"`         // Kα1, Å; null: not known
	TwoThetaMin      *float64      `json:"two_theta_min"`      // degrees; null after an error
	TwoThetaMax      *float64      `json:"two_theta_max"`      // degrees; null after an error
	Step             *float64      `json:"step"`               // degrees 2θ; null after an error
	RWP              *float64      `json:"r_wp"`               // fraction, not per cent
	RExp             *float64      `json:"r_exp"`              // expected from counting alone, fraction; null without a fit
	ReducedChiSquare *float64      `json:"reduced_chi_square"` // χ² over the degrees of freedom; null without a fit
	DisplacementMM   *float64      `json:"displacement_mm"`    // mm; null without a fit
	Status           string        `json:"status"`             // how the fit ended
	Verdict          Verdict       `json:"verdict"`            // on the explanation as a whole; "": not known
	ExplainedShare   *float64      `json:"explained_share"`    // of the summed area of all peaks, 0 to 1
	Stop             bool          `json:"stop"`               // a caution says that the answer must not be used as it is
	Cautions         []string      `json:"cautions"`           // their codes, the gravest first
	Phases           []SeriesShare `json:"phases"`             // parallel to Series.Phases; empty after an error
}

// A SeriesShare is a phase in one scan. A phase that the scan does not show has no fraction, only its limit.
type SeriesShare struct {
	ID              string   `json:"id"`                             // of the reference
	Origin          string   `json:"origin"`                         // specimen, preparation or standard
	Evidence        Evidence `json:"evidence"`                       // "not detected" when it is not there, "not judged" when the scan is not explained
	Detected        bool     `json:"detected"`                       // the scan shows it; not known where evidence is "not judged"
	WeightPercent   *float64 `json:"weight_percent"`                 // as in Phase
	WeightPercentLo *float64 `json:"weight_percent_lo95"`            // lower end of the 95 % interval
	WeightPercentHi *float64 `json:"weight_percent_hi95"`            // upper end of the 95 % interval
	VolumePercent   *float64 `json:"volume_percent"`                 // as in Phase
	VolumePercentLo *float64 `json:"volume_percent_lo95"`            // lower end of the 95 % interval
	VolumePercentHi *float64 `json:"volume_percent_hi95"`            // upper end of the 95 % interval
	Original        *float64 `json:"original_weight_percent"`        // as in Phase
	OriginalLo      *float64 `json:"original_weight_percent_lo95"`   // lower end of the 95 % interval
	OriginalHi      *float64 `json:"original_weight_percent_hi95"`   // upper end of the 95 % interval
	FineLimit       *float64 `json:"fine_limit_weight_percent"`      // as in Phase
	CoarseLimit     *float64 `json:"coarse_limit_weight_percent"`    // as in Phase
	DetectionLimit  *float64 `json:"detection_limit_weight_percent"` // least amount that would have been seen, wt%; null: not known
	CellA           *float64 `json:"cell_a"`                         // Å
	CellAU          *float64 `json:"cell_a_u"`                       // standard uncertainty
	CellB           *float64 `json:"cell_b"`                         // Å
	CellBU          *float64 `json:"cell_b_u"`                       // standard uncertainty
	CellC           *float64 `json:"cell_c"`                         // Å
	CellCU          *float64 `json:"cell_c_u"`                       // standard uncertainty
	SizeNM          *float64 `json:"size_nm"`                        // as in Phase
	Strain          *float64 `json:"strain"`                         // as in Phase
}

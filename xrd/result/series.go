package result

import "phasetally/xrd"

// SeriesSchema names the version of Series.
const SeriesSchema = "phasetally.series/1"

// A Series is series.json: what is tidy of every scan. Unknown quantities are null.
type Series struct {
	Schema     string        `json:"schema"`
	Fixed      bool          `json:"phases_named"` // the phases were named, not found
	Phases     []SeriesPhase `json:"phases"`
	Conditions []string      `json:"conditions"` // names of the columns of SeriesEntry.Conditions
	Numeric    []bool        `json:"conditions_numeric"`
	Abscissa   string        `json:"abscissa"` // the condition that trends are drawn against; "": the number of the scan
	Scans      []SeriesEntry `json:"scans"`
	Cautions   []xrd.Caution `json:"cautions"` // about the series; those of a scan are in its own analysis
	Provenance Provenance    `json:"provenance"`
}

// A SeriesPhase is a phase that every scan was fitted with.
type SeriesPhase struct {
	ID      string `json:"id"`
	Name    string `json:"name"`
	Formula string `json:"formula"`

	Answers   int      `json:"answers"`             // scans that have an answer
	Seen      int      `json:"seen"`                // scans that show the phase; what follows is of these, wt%
	Mean      *float64 `json:"mean_weight_percent"` // null: no fraction anywhere
	Deviation *float64 `json:"sd_weight_percent"`   // standard deviation of the sample; null: fewer than two
	Least     *float64 `json:"smallest_weight_percent"`
	Most      *float64 `json:"largest_weight_percent"`
}

// A SeriesEntry is one scan of a series.
type SeriesEntry struct {
	File             string        `json:"file"`
	Fingerprint      string        `json:"fingerprint"` // of the scan and of everything that steers its analysis
	Folder           string        `json:"folder"`      // of its own results, relative to that of the series; "": none
	HasReport        bool          `json:"has_report"`
	Sample           string        `json:"sample"`
	Simulated        string        `json:"simulated"` // of a scan that was calculated: from what
	SHA256           string        `json:"sha256"`
	Error            string        `json:"error"` // why there is no answer; "": there is one
	Stopped          bool          `json:"-"`     // its turn did not come before the run ended; Error says so too
	Absorption       Absorption    `json:"absorption"`
	Conditions       []string      `json:"conditions"` // as typed; empty: unknown
	Abscissa         *float64      `json:"abscissa"`
	Radiation        string        `json:"radiation"`
	Wavelength       *float64      `json:"wavelength"`
	TwoThetaMin      *float64      `json:"two_theta_min"`
	TwoThetaMax      *float64      `json:"two_theta_max"`
	Step             *float64      `json:"step"`
	RWP              *float64      `json:"r_wp"` // fraction, not per cent
	RExp             *float64      `json:"r_exp"`
	ReducedChiSquare *float64      `json:"reduced_chi_square"`
	DisplacementMM   *float64      `json:"displacement_mm"`
	Status           string        `json:"status"`          // how the fit ended
	Verdict          Verdict       `json:"verdict"`         // on the explanation as a whole; "": not known
	ExplainedShare   *float64      `json:"explained_share"` // of the summed area of all peaks, 0 to 1
	Stop             bool          `json:"stop"`            // a caution says that the answer must not be used as it is
	Cautions         []string      `json:"cautions"`
	Phases           []SeriesShare `json:"phases"` // parallel to Series.Phases; empty after an error
}

// A SeriesShare is a phase in one scan. A phase that the scan does not show has no fraction, only its limit.
type SeriesShare struct {
	ID              string   `json:"id"`
	Origin          string   `json:"origin"`
	Evidence        Evidence `json:"evidence"` // "not detected" when it is not there
	Detected        bool     `json:"detected"`
	WeightPercent   *float64 `json:"weight_percent"`
	WeightPercentLo *float64 `json:"weight_percent_lo95"`
	WeightPercentHi *float64 `json:"weight_percent_hi95"`
	VolumePercent   *float64 `json:"volume_percent"`
	VolumePercentLo *float64 `json:"volume_percent_lo95"`
	VolumePercentHi *float64 `json:"volume_percent_hi95"`
	Original        *float64 `json:"original_weight_percent"`
	OriginalLo      *float64 `json:"original_weight_percent_lo95"`
	OriginalHi      *float64 `json:"original_weight_percent_hi95"`
	FineLimit       *float64 `json:"fine_limit_weight_percent"`
	CoarseLimit     *float64 `json:"coarse_limit_weight_percent"`
	DetectionLimit  *float64 `json:"detection_limit_weight_percent"`
	CellA           *float64 `json:"cell_a"` // Å
	CellAU          *float64 `json:"cell_a_u"`
	CellB           *float64 `json:"cell_b"`
	CellBU          *float64 `json:"cell_b_u"`
	CellC           *float64 `json:"cell_c"`
	CellCU          *float64 `json:"cell_c_u"`
	SizeNM          *float64 `json:"size_nm"`
	Strain          *float64 `json:"strain"`
}

package result

import "fmt"

// An Explanation says how far the phases as a whole account for what a scan shows.
type Explanation struct {
	Verdict        Verdict        `json:"verdict"`         // complete, partial or none
	ExplainedShare *float64       `json:"explained_share"` // of the summed area of all peaks, 0 to 1
	LeftOverPeaks  []LeftOverPeak `json:"left_over_peaks"` // that are not accounted for, ascending angle
	// Ids of phases that account for peaks though their names do not hold, in the order of the phases: they may stand in for phases
	// that are missing.
	DoubtedPhases []string `json:"doubted_phases"`
	// The phase of all reference data, whatever elements were stated, that would explain most of the peaks that are left; null when
	// none would explain several.
	Rest *Rest `json:"rest"`
	// The one element that was not stated and whose phases together would explain most of them, and more than one phase does; null when
	// there is none, or no elements were stated.
	RestElement *RestElement `json:"rest_element"`
	Radiation   string       `json:"radiation"` // the tube that explains far more; "": none does
	// The scan was read with one wavelength, while it shows Kα1 and Kα2 of that tube apart.
	SingleWavelength bool `json:"single_wavelength"`
	// Nearly all peaks are orders of one spacing, as a film or a single crystal shows them; null: they are not, or phases explain them.
	OneSpacing *OneSpacing `json:"one_spacing"`
	// Fits after which the search was stopped because it had taken the work that it may; 0: it came to its own end.
	SearchStoppedAfter int `json:"search_stopped_after"`
}

// A OneSpacing is one set of planes that a scan shows.
type OneSpacing struct {
	Spacing    float64  `json:"spacing"`    // Å, of which the peaks are orders
	Peaks      int      `json:"peaks"`      // that are
	Of         int      `json:"of"`         // peaks of the scan
	Candidates []Layers `json:"candidates"` // phases of the reference data that have such planes; the spacing alone establishes none
}

// Layers are planes of a phase.
type Layers struct {
	ID   string `json:"id"`   // of its reference data
	Name string `json:"name"` // for people
	Pole [3]int `json:"pole"` // h k l of the planes
}

// ShareText is a share, 0 to 1, as a percentage that does not round to everything or nothing.
func ShareText(share float64) string {
	switch {
	case share >= 0.995:
		return "more than 99 %"
	case share < 0.005:
		return "less than 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}

// A Rest is a phase that would explain peaks that are left.
type Rest struct {
	ID       string   `json:"id"`       // of its reference data
	Name     string   `json:"name"`     // for people
	Peaks    int      `json:"peaks"`    // that it would explain
	Of       int      `json:"of"`       // peaks that are left
	Elements []string `json:"elements"` // of it that were not stated, by symbol; empty: it was tried and did not hold
}

// A RestElement is an element whose phases would explain peaks that are left.
type RestElement struct {
	Symbol string   `json:"symbol"` // of the element
	Phases []string `json:"phases"` // names of two or three phases, what explains most first
	Peaks  int      `json:"peaks"`  // that they would explain
	Of     int      `json:"of"`     // peaks that are left
}

// A LeftOverPeak is a peak of which a part is not accounted for.
type LeftOverPeak struct {
	TwoTheta     float64 `json:"two_theta"`    // degrees
	Share        float64 `json:"share"`        // of its area that is left, 0 to 1
	Significance float64 `json:"significance"` // of what is left, in standard uncertainties
}

// A Procedure is the record of what was done, from which methods paragraph and answer follow.
type Procedure struct {
	Phases     PhaseSource    `json:"phases"`     // how they were found or chosen
	Fractions  FractionSource `json:"fractions"`  // what they rest on
	Scans      int            `json:"scans"`      // of the specimen that the fractions rest on
	Grains     bool           `json:"grains"`     // corrected for absorption in grains of stated size, after Brindley
	Slit       string         `json:"slit"`       // what intensities were corrected for though nobody stated it: "automatic", "overspill"; "": nothing
	Blank      bool           `json:"blank"`      // a scan of the mount was fitted beside the specimen
	Anchor     string         `json:"anchor"`     // id of the phase whose reference cell fixed the angle scale; "": none did
	Calibrated bool           `json:"calibrated"` // widths of lines are those of a calibrated instrument
}

// PhaseSource says where the phases of an analysis come from.
type PhaseSource string

// Where phases come from: a search of this scan, the user, a search of the series that the scan belongs to.
const (
	Searched         PhaseSource = "searched"
	NamedByUser      PhaseSource = "named"
	SearchedInSeries PhaseSource = "searched in the series"
)

// FractionSource says what makes fractions of intensities.
type FractionSource string

// What makes fractions: their sum is taken to be 100 %, a standard in the powder, a scan of a standard, nothing.
const (
	Normalised       FractionSource = "normalised"
	InternalStandard FractionSource = "internal standard"
	ExternalStandard FractionSource = "external standard"
	NoFractions      FractionSource = "none"
)

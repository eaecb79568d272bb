package result

// PlanSchema names the version of the document of a plan.
const PlanSchema = "phasetally.plan/1"

// A Plan says before a scan what it can show. Unknown numbers are nil. Nothing in it is measured unless From says so.
type Plan struct {
	Schema     string            `json:"schema"`     // names the version
	Specimen   PlannedSpecimen   `json:"specimen"`   // as stated
	Scan       PlannedScan       `json:"scan"`       // as stated, or by default
	Footprint  Footprint         `json:"footprint"`  // of the beam on the specimen
	Phases     []PlannedPhase    `json:"phases"`     // in the order in which they were given
	Tubes      []PlannedTube     `json:"tubes"`      // the stated one first
	Absorption PlannedAbsorption `json:"absorption"` // of grains
	Suggested  Suggested         `json:"suggested"`  // scan that would do better
	Earlier    *EarlierScan      `json:"earlier"`    // what an earlier scan of the instrument says; null without one
	Warnings   []string          `json:"warnings"`   // in words, the gravest first
	Checklist  []string          `json:"checklist"`  // what to do before the scan

	Drawn Analysis `json:"-"` // the scan as it is expected, without noise, for figures
}

// PlannedSpecimen is what will be put in the beam.
type PlannedSpecimen struct {
	LengthMM    *float64 `json:"length_mm"`    // along the beam; null: longer than the beam
	WidthMM     *float64 `json:"width_mm"`     // null: wider than the beam
	Pieces      int      `json:"pieces"`       // wires side by side; 0 for one piece
	WireMM      *float64 `json:"wire_mm"`      // diameter of a wire, mm; null: not of wires
	Section     string   `json:"section"`      // transverse, longitudinal, rolled or powder; empty: not stated
	Mount       string   `json:"mount"`        // material about the specimen; empty: not stated
	InterceptUM *float64 `json:"intercept_um"` // mean intercept of the grains, µm
	LayerUM     *float64 `json:"layer_um"`     // thickness of a layer that is asked for, µm
}

// PlannedScan is how it will be scanned.
type PlannedScan struct {
	Radiation   string   `json:"radiation"`       // name of the tube
	Wavelength  float64  `json:"wavelength"`      // Kα1, Å
	RadiusMM    float64  `json:"radius_mm"`       // of the goniometer, mm
	Slit        string   `json:"slit"`            // fixed:DEGREES or automatic:MM; empty: not stated
	TwoThetaMin float64  `json:"two_theta_min"`   // degrees
	TwoThetaMax float64  `json:"two_theta_max"`   // degrees
	Step        float64  `json:"step"`            // degrees 2θ
	TimeS       float64  `json:"time_s"`          // per step
	TotalHours  float64  `json:"total_hours"`     // without the time that the drive takes
	Rate        float64  `json:"rate"`            // counts/s at the top of corundum 113
	Background  float64  `json:"background"`      // counts/s, with fluorescence
	From        string   `json:"rates_from"`      // where rate and background come from
	Threshold   float64  `json:"threshold"`       // standard uncertainties at which a phase is accepted
	Wanted      *float64 `json:"wanted_limit"`    // wt%
	WantedHalf  *float64 `json:"wanted_interval"` // half width of the 95 % interval, wt%
}

// Footprint is how the beam meets the specimen.
type Footprint struct {
	Rows            []FootprintRow `json:"rows"`                   // ascending angle
	FullAbove       *float64       `json:"full_above_two_theta"`   // all of the beam is on the specimen; null where that is not known
	UsableAbove     *float64       `json:"usable_above_two_theta"` // at least half of it is
	Mount           []MountLine    `json:"mount"`                  // what the mount adds where the beam is longer
	AcrossShare     float64        `json:"across_share"`           // of the beam's width that the specimen takes
	BeamWidthMM     float64        `json:"beam_width_mm"`          // across the beam, mm
	LitAtFirstMM    *float64       `json:"lit_at_first_line_mm"`   // length that the beam lights at the first line, mm; null: not known
	FirstTwoTheta   float64        `json:"first_line_two_theta"`   // angle of the first line, degrees
	MountRecognised bool           `json:"mount_recognised"`       // its lines or halo are known
}

// FootprintRow is the footprint at one angle.
type FootprintRow struct {
	TwoTheta float64 `json:"two_theta"` // degrees
	LengthMM float64 `json:"length_mm"` // of the beam on the specimen's plane, mm
	Share    float64 `json:"share"`     // of the beam that the specimen takes
}

// MountLine is a line or halo of the mount.
type MountLine struct {
	Material string  `json:"material"`  // of the mount
	Kind     string  `json:"kind"`      // halo or line
	TwoTheta float64 `json:"two_theta"` // degrees
	Below    bool    `json:"below"`     // it lies where the beam is longer than the specimen
}

// PlannedPhase is what the scan will show of a phase.
type PlannedPhase struct {
	ID            string        `json:"id"`                                  // of the reference
	Name          string        `json:"name"`                                // for people
	Formula       string        `json:"formula"`                             // of the reference
	WeightPercent float64       `json:"weight_percent"`                      // as stated, wt%
	Strongest     float64       `json:"strongest_two_theta"`                 // angle of its strongest line, degrees
	DepthUM       [3]float64    `json:"depth_um"`                            // from which 50, 95, 99 % of the signal comes, in the phase itself
	InMixUM       [3]float64    `json:"in_mix_um"`                           // the same in the mean of the specimen
	LayerShare    *float64      `json:"layer_share"`                         // of the signal at the strongest line that a layer of the asked thickness gives
	Lines         []PlannedLine `json:"lines"`                               // the strongest first, twelve at most
	Free          int           `json:"free_lines"`                          // lines that stand clear of the other phases
	Limit         *float64      `json:"detection_limit_weight_percent"`      // least amount that the scan would show, wt%
	Shown         *float64      `json:"surely_shown_weight_percent"`         // the same as the limit, kept for readers of earlier plans
	TimeForLimit  *float64      `json:"time_for_limit_s"`                    // per step, until the limit is the wanted one
	Half          *float64      `json:"interval_weight_percent"`             // half width of the 95 % interval, wt%
	HalfFloor     *float64      `json:"interval_at_any_time_weight_percent"` // what no counting time makes smaller
	TimeForHalf   *float64      `json:"time_for_interval_s"`                 // seconds a step until the interval is the wanted one; null: never, or none wanted
	CoarseReads   *float64      `json:"coarse_reads_weight_percent"`         // what a scan of very coarse grains would read, wt%
	GrainsReads   *float64      `json:"grains_read_weight_percent"`          // with the intercept that was given
	Grains        *GrainCount   `json:"grains"`                              // how many diffract; null without an intercept
	Hazard        string        `json:"hazard"`                              // of its dust, in words; empty: none known
}

// PlannedLine is a line of a phase as the scan will show it.
type PlannedLine struct {
	HKL      string  `json:"hkl"`          // Miller indices, "1 1 3"; empty: the reference has none
	TwoTheta float64 `json:"two_theta"`    // degrees
	D        float64 `json:"d"`            // spacing, Å
	Expected float64 `json:"expected"`     // counts × degrees
	Sigmas   float64 `json:"significance"` // of counting
	Clear    float64 `json:"clear"`        // share of the phase in what is under the line
	Free     bool    `json:"free"`         // it stands clear of the other phases
}

// GrainCount is the statistics of grains at a phase's strongest line.
type GrainCount struct {
	Irradiated  float64 `json:"irradiated"`          // grains in the beam
	Diffracting float64 `json:"diffracting"`         // of these, those that diffract
	Scatter     float64 `json:"scatter"`             // relative, of intensities, stationary
	Spinning    float64 `json:"scatter_spinning"`    // relative
	Spots       int     `json:"spots_for_5_percent"` // places to be scanned until intensities scatter by 5 %
}

// PlannedTube compares tubes at the same count rate of corundum.
type PlannedTube struct {
	Radiation    string     `json:"radiation"`            // name of the tube
	TwoThetaMin  float64    `json:"two_theta_min"`        // degrees of the same spacings
	TwoThetaMax  float64    `json:"two_theta_max"`        // degrees
	Glowing      []string   `json:"fluorescing_elements"` // symbols of elements that it makes fluoresce
	Fluorescence float64    `json:"fluorescence"`         // counts/s without energy discrimination
	Limits       []*float64 `json:"detection_limits"`     // wt%, parallel to the phases
	TimesForBest []*float64 `json:"times_for_limit_s"`    // seconds a step until the limit is the wanted one, parallel to the phases; empty: none wanted
	Score        *float64   `json:"score"`                // mean of the logarithm of the limits over those of the best: 0 is best
}

// PlannedAbsorption is what grains do to fractions.
type PlannedAbsorption struct {
	SpanWeightPercent *float64 `json:"span_weight_percent"` // largest difference between fine and coarse grains
	Advice            string   `json:"advice"`              // in words
}

// Suggested is a better scan.
type Suggested struct {
	TwoThetaMin   float64  `json:"two_theta_min"`   // degrees
	TwoThetaMax   float64  `json:"two_theta_max"`   // degrees
	Step          float64  `json:"step"`            // degrees 2θ
	LeastFWHM     float64  `json:"least_fwhm"`      // of the narrowest line, degrees
	PointsPerFWHM float64  `json:"points_per_fwhm"` // of the step that was asked for
	Slit          string   `json:"slit"`            // fixed:DEGREES; empty: nothing better is known
	TimeS         *float64 `json:"time_s"`          // seconds a step; null: none is enough, or nothing is wanted
	TotalHours    *float64 `json:"total_hours"`     // of the whole scan; null as the time
	Radiation     string   `json:"radiation"`       // name of the tube
}

// EarlierScan is what a result of the same instrument says.
type EarlierScan struct {
	Sample     string         `json:"sample"`      // name of its specimen
	Rate       *float64       `json:"rate"`        // counts/s at the top of corundum 113; null: not known
	Background *float64       `json:"background"`  // counts/s; null: not known
	WidthRatio *float64       `json:"width_ratio"` // of its lines over those of the instrument
	Wrong      []EarlierFault `json:"wrong"`       // what went wrong, and what to change
}

// EarlierFault is one thing that went wrong, and what to change.
type EarlierFault struct {
	Code   string `json:"code"`   // of the caution
	Text   string `json:"text"`   // what went wrong
	Change string `json:"change"` // what to do about it in this scan
}

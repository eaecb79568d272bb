package result

// PlanSchema names the version of the document of a plan.
const PlanSchema = "phasetally.plan/1"

// A Plan says before a scan what it can show. Unknown numbers are nil. Nothing in it is measured unless From says so.
type Plan struct {
	Schema     string            `json:"schema"`
	Specimen   PlannedSpecimen   `json:"specimen"`
	Scan       PlannedScan       `json:"scan"`
	Footprint  Footprint         `json:"footprint"`
	Phases     []PlannedPhase    `json:"phases"`
	Tubes      []PlannedTube     `json:"tubes"`
	Absorption PlannedAbsorption `json:"absorption"`
	Suggested  Suggested         `json:"suggested"`
	Earlier    *EarlierScan      `json:"earlier"` // what an earlier scan of the instrument says; null without one
	Warnings   []string          `json:"warnings"`
	Checklist  []string          `json:"checklist"`

	Drawn Analysis `json:"-"` // the scan as it is expected, without noise, for figures
}

// PlannedSpecimen is what will be put in the beam.
type PlannedSpecimen struct {
	LengthMM    *float64 `json:"length_mm"` // along the beam; null: longer than the beam
	WidthMM     *float64 `json:"width_mm"`  // null: wider than the beam
	Pieces      int      `json:"pieces"`    // wires side by side; 0 for one piece
	WireMM      *float64 `json:"wire_mm"`
	Section     string   `json:"section"`
	Mount       string   `json:"mount"`
	InterceptUM *float64 `json:"intercept_um"` // mean intercept of the grains, µm
	LayerUM     *float64 `json:"layer_um"`     // thickness of a layer that is asked for, µm
}

// PlannedScan is how it will be scanned.
type PlannedScan struct {
	Radiation   string   `json:"radiation"`
	Wavelength  float64  `json:"wavelength"` // Kα1, Å
	RadiusMM    float64  `json:"radius_mm"`
	Slit        string   `json:"slit"`
	TwoThetaMin float64  `json:"two_theta_min"`
	TwoThetaMax float64  `json:"two_theta_max"`
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
	Rows            []FootprintRow `json:"rows"`
	FullAbove       *float64       `json:"full_above_two_theta"`   // all of the beam is on the specimen; null where that is not known
	UsableAbove     *float64       `json:"usable_above_two_theta"` // at least half of it is
	Mount           []MountLine    `json:"mount"`                  // what the mount adds where the beam is longer
	AcrossShare     float64        `json:"across_share"`           // of the beam's width that the specimen takes
	BeamWidthMM     float64        `json:"beam_width_mm"`
	LitAtFirstMM    *float64       `json:"lit_at_first_line_mm"`
	FirstTwoTheta   float64        `json:"first_line_two_theta"`
	MountRecognised bool           `json:"mount_recognised"`
}

// FootprintRow is the footprint at one angle.
type FootprintRow struct {
	TwoTheta float64 `json:"two_theta"`
	LengthMM float64 `json:"length_mm"`
	Share    float64 `json:"share"` // of the beam that the specimen takes
}

// MountLine is a line or halo of the mount.
type MountLine struct {
	Material string  `json:"material"`
	Kind     string  `json:"kind"` // halo or line
	TwoTheta float64 `json:"two_theta"`
	Below    bool    `json:"below"` // it lies where the beam is longer than the specimen
}

// PlannedPhase is what the scan will show of a phase.
type PlannedPhase struct {
	ID            string        `json:"id"`
	Name          string        `json:"name"`
	Formula       string        `json:"formula"`
	WeightPercent float64       `json:"weight_percent"`
	Strongest     float64       `json:"strongest_two_theta"`
	DepthUM       [3]float64    `json:"depth_um"`    // from which 50, 95, 99 % of the signal comes, in the phase itself
	InMixUM       [3]float64    `json:"in_mix_um"`   // the same in the mean of the specimen
	LayerShare    *float64      `json:"layer_share"` // of the signal at the strongest line that a layer of the asked thickness gives
	Lines         []PlannedLine `json:"lines"`
	Free          int           `json:"free_lines"`
	Limit         *float64      `json:"detection_limit_weight_percent"`
	Shown         *float64      `json:"surely_shown_weight_percent"` // the same as the limit, kept for readers of earlier plans
	TimeForLimit  *float64      `json:"time_for_limit_s"`            // per step, until the limit is the wanted one
	Half          *float64      `json:"interval_weight_percent"`
	HalfFloor     *float64      `json:"interval_at_any_time_weight_percent"` // what no counting time makes smaller
	TimeForHalf   *float64      `json:"time_for_interval_s"`
	CoarseReads   *float64      `json:"coarse_reads_weight_percent"`
	GrainsReads   *float64      `json:"grains_read_weight_percent"` // with the intercept that was given
	Grains        *GrainCount   `json:"grains"`
	Hazard        string        `json:"hazard"`
}

// PlannedLine is a line of a phase as the scan will show it.
type PlannedLine struct {
	HKL      string  `json:"hkl"`
	TwoTheta float64 `json:"two_theta"`
	D        float64 `json:"d"`
	Expected float64 `json:"expected"`     // counts × degrees
	Sigmas   float64 `json:"significance"` // of counting
	Clear    float64 `json:"clear"`        // share of the phase in what is under the line
	Free     bool    `json:"free"`
}

// GrainCount is the statistics of grains at a phase's strongest line.
type GrainCount struct {
	Irradiated  float64 `json:"irradiated"`
	Diffracting float64 `json:"diffracting"`
	Scatter     float64 `json:"scatter"`          // relative, of intensities, stationary
	Spinning    float64 `json:"scatter_spinning"` // relative
	Spots       int     `json:"spots_for_5_percent"`
}

// PlannedTube compares tubes at the same count rate of corundum.
type PlannedTube struct {
	Radiation    string     `json:"radiation"`
	TwoThetaMin  float64    `json:"two_theta_min"`
	TwoThetaMax  float64    `json:"two_theta_max"`
	Glowing      []string   `json:"fluorescing_elements"`
	Fluorescence float64    `json:"fluorescence"` // counts/s without energy discrimination
	Limits       []*float64 `json:"detection_limits"`
	TimesForBest []*float64 `json:"times_for_limit_s"`
	Score        *float64   `json:"score"` // mean of the logarithm of the limits over those of the best: 0 is best
}

// PlannedAbsorption is what grains do to fractions.
type PlannedAbsorption struct {
	SpanWeightPercent *float64 `json:"span_weight_percent"` // largest difference between fine and coarse grains
	Advice            string   `json:"advice"`
}

// Suggested is a better scan.
type Suggested struct {
	TwoThetaMin   float64  `json:"two_theta_min"`
	TwoThetaMax   float64  `json:"two_theta_max"`
	Step          float64  `json:"step"`
	LeastFWHM     float64  `json:"least_fwhm"`
	PointsPerFWHM float64  `json:"points_per_fwhm"` // of the step that was asked for
	Slit          string   `json:"slit"`
	TimeS         *float64 `json:"time_s"`
	TotalHours    *float64 `json:"total_hours"`
	Radiation     string   `json:"radiation"`
}

// EarlierScan is what a result of the same instrument says.
type EarlierScan struct {
	Sample     string         `json:"sample"`
	Rate       *float64       `json:"rate"`
	Background *float64       `json:"background"`
	WidthRatio *float64       `json:"width_ratio"` // of its lines over those of the instrument
	Wrong      []EarlierFault `json:"wrong"`
}

// EarlierFault is one thing that went wrong, and what to change.
type EarlierFault struct {
	Code   string `json:"code"`
	Text   string `json:"text"`
	Change string `json:"change"`
}

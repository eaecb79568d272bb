package result

import (
	"time"

	"phasetally/refdata"
	"phasetally/xrd"
)

// Schema names the version of Document.
const Schema = "phasetally.analysis/1"

// A Document is the result of an analysis; unknown quantities are null. Percentages are of the crystalline part of the
// specimen unless the name says otherwise; 95 % intervals.
type Document struct {
	Schema             string        `json:"schema"`
	Scan               Scan          `json:"scan"`
	Explanation        *Explanation  `json:"explanation"` // null when no phase was looked for
	Procedure          *Procedure    `json:"procedure"`   // null when no phase was looked for
	Phases             []Phase       `json:"phases"`
	FractionCovariance [][]float64   `json:"fraction_covariance"` // wt%², order of Phases
	PhaseOrder         []string      `json:"phase_order"`         // ids in the order of their colours, the same for every scan of a run; empty: the order of Phases
	Absolute           *Absolute     `json:"absolute"`
	SameSpecimen       *SameSpecimen `json:"same_specimen"`
	Factors            *Factors      `json:"factors"`    // null when none were used
	Absorption         Absorption    `json:"absorption"` // "": no fractions
	Micrograph         *Micrograph   `json:"micrograph"` // null without area fractions
	NotDetected        []NotDetected `json:"not_detected"`
	UnexplainedPeaks   []Unexplained `json:"unexplained_peaks"`
	Cautions           []xrd.Caution `json:"cautions"`
	Fit                *Fit          `json:"fit"`
	Peaks              []Peak        `json:"peaks"`
	References         []Reference   `json:"references"` // what the result rests on: methods, tables, and the source of each phase
	Choices            []string      `json:"choices"`    // made by hand while looking, in order and in words; null without any
	Provenance         Provenance    `json:"provenance"`
}

// Scan describes the scan.
type Scan struct {
	File             string           `json:"file"`
	SHA256           string           `json:"sha256"`
	Sample           string           `json:"sample"`
	Points           int              `json:"points"`
	TwoThetaMin      float64          `json:"two_theta_min"`
	TwoThetaMax      float64          `json:"two_theta_max"`
	Step             float64          `json:"step"`
	Radiation        string           `json:"radiation"`
	Wavelength       float64          `json:"wavelength"` // Kα1, Å
	RadiationAssumed bool             `json:"radiation_assumed"`
	Slit             string           `json:"slit"`
	Geometry         string           `json:"geometry"` // "reflection" or "transmission"
	RadiusMM         *float64         `json:"radius_mm"`
	SpecimenLengthMM *float64         `json:"specimen_length_mm"`
	Section          string           `json:"section"`
	Mount            string           `json:"mount"`
	Intercepts       []Length         `json:"intercepts"`    // mean linear intercepts of the regions of a section, as stated
	InterceptCV2     *InterceptSpread `json:"intercept_cv2"` // of the intercepts, as stated; null: 0.5 ± 0.3 is taken
	CountingTimeS    *float64         `json:"counting_time_s"`
	Simulated        string           `json:"simulated"`   // of a scan that was calculated: from what; empty for a measured one
	NoiseModel       string           `json:"noise_model"` // "poisson", "recorded", "estimated"
}

// Reason is one piece of evidence for (or against) a phase.
type Reason struct {
	Code  string   `json:"code"`
	Text  string   `json:"text"`
	Value *float64 `json:"value"`
}

// PhaseLine is a line of a phase, expected against observed.
type PhaseLine struct {
	H         *int     `json:"h"`
	K         *int     `json:"k"`
	L         *int     `json:"l"`
	D         float64  `json:"d"`
	TwoTheta  float64  `json:"two_theta"` // as found in this scan
	Expected  float64  `json:"expected"`  // integrated intensity of the model without texture, counts × degrees
	Observed  *float64 `json:"observed"`  // same unit, other phases' shares taken away
	ObservedU *float64 `json:"observed_u"`
	Own       bool     `json:"own"` // stands clear of stronger phases
	// Verdict is what the line tells of its phase; "" in documents that are older than this key.
	Verdict LineVerdict `json:"verdict"`
}

// Texture is a fitted March–Dollase coefficient; r < 1: pole along the surface normal (plates).
type Texture struct {
	Pole [3]int  `json:"pole"`
	R    float64 `json:"r"`
	RU   float64 `json:"r_u"`
}

// Sections is a fibre texture, with what sections of the piece across and along its axis show.
type Sections struct {
	Pole  [3]int        `json:"pole"`
	R     float64       `json:"r"` // March–Dollase about the axis
	Lines []SectionLine `json:"lines"`
}

// SectionLine is a line with its intensity over that of a random powder in both sections.
type SectionLine struct {
	H            int     `json:"h"`
	K            int     `json:"k"`
	L            int     `json:"l"`
	Transverse   float64 `json:"transverse"`
	Longitudinal float64 `json:"longitudinal"`
}

// Alternative is a phase that explains the same lines nearly as well.
type Alternative struct {
	ID   string  `json:"id"`
	Name string  `json:"name"`
	Gain float64 `json:"gain"`
	// Decide says in words what would tell the two apart.
	Decide string `json:"decide"`
}

// BudgetItem is one source of uncertainty of a weight fraction.
type BudgetItem struct {
	Source         string  `json:"source"`
	UWeightPercent float64 `json:"u_weight_percent"`
}

// Phase is a phase with its fraction and its evidence.
type Phase struct {
	ID                       string        `json:"id"`
	Name                     string        `json:"name"`
	Formula                  string        `json:"formula"`
	Source                   string        `json:"source"`   // publication or file of its reference data; empty when not stated
	Origin                   string        `json:"origin"`   // specimen, preparation, standard
	Evidence                 Evidence      `json:"evidence"` // established, probable, tentative; "named" when the user named it
	Reasons                  []Reason      `json:"reasons"`
	WeightPercent            *float64      `json:"weight_percent"`
	WeightPercentLo          *float64      `json:"weight_percent_lo95"`
	WeightPercentHi          *float64      `json:"weight_percent_hi95"`
	VolumePercent            *float64      `json:"volume_percent"`
	VolumePercentLo          *float64      `json:"volume_percent_lo95"`
	VolumePercentHi          *float64      `json:"volume_percent_hi95"`
	OriginalWeightPercent    *float64      `json:"original_weight_percent"`
	OriginalWeightPercentLo  *float64      `json:"original_weight_percent_lo95"`
	OriginalWeightPercentHi  *float64      `json:"original_weight_percent_hi95"`
	FineLimitWeightPercent   *float64      `json:"fine_limit_weight_percent"` // of a section, were its regions small beside the beam's reach; null for a powder
	FineLimitLo              *float64      `json:"fine_limit_weight_percent_lo95"`
	FineLimitHi              *float64      `json:"fine_limit_weight_percent_hi95"`
	CoarseLimitWeightPercent *float64      `json:"coarse_limit_weight_percent"`
	CoarseLimitLo            *float64      `json:"coarse_limit_weight_percent_lo95"`
	CoarseLimitHi            *float64      `json:"coarse_limit_weight_percent_hi95"`
	DetectionLimit           *float64      `json:"detection_limit_weight_percent"`
	Depth95                  *float64      `json:"depth95_um"` // from which 95 % of the intensity of its strongest line in range comes, µm of the solid
	Hazards                  []Hazard      `json:"hazards"`    // of its dust and of what etches it; empty when none is known, which does not mean harmless
	RIR                      *float64      `json:"rir"`
	RIROrigin                string        `json:"rir_origin"`
	RIRBasis                 string        `json:"rir_basis"`
	RIRRadiation             string        `json:"rir_radiation"`
	Density                  *float64      `json:"density"`
	DensityOrigin            string        `json:"density_origin"`
	Scale                    float64       `json:"scale"`   // integrated intensity of the strongest line, counts × degrees
	ScaleU                   float64       `json:"scale_u"` // standard uncertainty
	Cell                     *refdata.Cell `json:"cell"`
	CellU                    *refdata.Cell `json:"cell_u"`
	SizeNM                   *float64      `json:"size_nm"`
	Strain                   *float64      `json:"strain"`
	Texture                  []Texture     `json:"texture"`
	Sections                 *Sections     `json:"sections"`
	Lines                    []PhaseLine   `json:"lines"`
	LineRIR                  *LineRIR      `json:"line_rir"`
	Alternatives             []Alternative `json:"alternatives"`
	Budget                   []BudgetItem  `json:"budget"`
}

// LineRIR is the fraction as single fitted peaks give it, as a check of the whole-pattern answer. Intervals leave out the
// uncertainty of the reference intensity ratios, which both share.
type LineRIR struct {
	Lines               int      `json:"lines"` // free lines
	SingleTwoTheta      *float64 `json:"single_two_theta"`
	SingleWeightPercent *float64 `json:"single_weight_percent"` // by the strongest of them alone
	SingleLo            *float64 `json:"single_weight_percent_lo95"`
	SingleHi            *float64 `json:"single_weight_percent_hi95"`
	MultiWeightPercent  *float64 `json:"multi_weight_percent"` // by all of them
	MultiLo             *float64 `json:"multi_weight_percent_lo95"`
	MultiHi             *float64 `json:"multi_weight_percent_hi95"`
	Sigmas              float64  `json:"sigmas"` // multi less whole pattern over the standard uncertainty of both
}

// Absolute is the outcome of an internal or external standard.
type Absolute struct {
	Method                 string   `json:"method"`
	Standard               string   `json:"standard"`
	StandardWeightPercent  *float64 `json:"standard_weight_percent"`  // of the scanned powder; null for an external one
	AmorphousWeightPercent *float64 `json:"amorphous_weight_percent"` // of the original, before the standard was added
	AmorphousLo            *float64 `json:"amorphous_weight_percent_lo95"`
	AmorphousHi            *float64 `json:"amorphous_weight_percent_hi95"`
	KFactor                *float64 `json:"k_factor"` // of an external standard, counts × degrees × cm²/g
	KFactorU               *float64 `json:"k_factor_u"`
	MassAttenuation        *float64 `json:"mass_attenuation"` // of everything scanned, cm²/g
	MassAttenuationU       *float64 `json:"mass_attenuation_u"`
	AttenuationFrom        string   `json:"mass_attenuation_from"` // "composition" or "phases"; empty without external standard
}

// SameSpecimen tells how several scans of one specimen, whose fractions were determined together, agree.
type SameSpecimen struct {
	Scans     []ScanOf `json:"scans"` // what each says alone
	ChiSquare *float64 `json:"chi_square"`
	Freedom   int      `json:"freedom"`
	P         *float64 `json:"p"`                // of a larger χ² by chance
	Between   *float64 `json:"between_relative"` // relative standard deviation of amounts between scans beyond counting
}

// ScanOf is one scan of a specimen, alone.
type ScanOf struct {
	File    string    `json:"file"`
	SHA256  string    `json:"sha256"`
	Section string    `json:"section"`
	Phases  []PhaseOf `json:"phases"`
}

// PhaseOf is a phase as one scan shows it.
type PhaseOf struct {
	ID              string    `json:"id"`
	WeightPercent   *float64  `json:"weight_percent"`
	WeightPercentLo *float64  `json:"weight_percent_lo95"`
	WeightPercentHi *float64  `json:"weight_percent_hi95"`
	Texture         []Texture `json:"texture"`
}

// NotDetected is a phase that was looked for and not found.
type NotDetected struct {
	ID             string   `json:"id"`
	Name           string   `json:"name"`
	DetectionLimit *float64 `json:"detection_limit_weight_percent"`
	Asked          bool     `json:"asked"` // the user named it; otherwise it stands on the preparation watch-list
}

// Unexplained is a peak that no accepted phase explains.
type Unexplained struct {
	TwoTheta     float64  `json:"two_theta"`
	D            float64  `json:"d"`
	Significance float64  `json:"significance"` // height or area over its standard uncertainty
	CouldBe      []string `json:"could_be"`
}

// Fit holds the agreement of the whole-pattern fit.
type Fit struct {
	RWP              float64  `json:"r_wp"` // fraction, not per cent
	RWPBackground    float64  `json:"r_wp_background_subtracted"`
	RExp             float64  `json:"r_exp"`
	ReducedChiSquare float64  `json:"reduced_chi_square"`
	DurbinWatson     float64  `json:"durbin_watson"`
	ZeroShift        float64  `json:"zero_shift"` // degrees 2θ
	DisplacementMM   *float64 `json:"displacement_mm"`
	Iterations       int      `json:"iterations"`
	Background       int      `json:"background_intervals"` // of the spline, chosen by an information criterion
	Status           string   `json:"status"`
	// Undetermined names parameters that the data leave open, Correlated pairs with |ρ| > 0.95.
	Undetermined []string      `json:"undetermined"`
	Correlated   []Correlation `json:"correlated"`
}

// Correlation is a pair of parameters that the scan hardly separates.
type Correlation struct {
	A   string  `json:"a"`
	B   string  `json:"b"`
	Rho float64 `json:"rho"`
}

// Peak is a found peak with the phases that explain it.
type Peak struct {
	TwoTheta         float64  `json:"two_theta"`
	TwoThetaU        float64  `json:"two_theta_u"`
	D                float64  `json:"d"`
	Height           float64  `json:"height"`
	HeightU          float64  `json:"height_u"`
	Area             float64  `json:"area"` // counts × degrees
	AreaU            float64  `json:"area_u"`
	FWHM             float64  `json:"fwhm"`
	FWHMU            float64  `json:"fwhm_u"`
	IntegralBreadth  float64  `json:"integral_breadth"` // area over height of Kα1 alone
	IntegralBreadthU float64  `json:"integral_breadth_u"`
	AreaFWHM         float64  `json:"area_fwhm_correlation"`
	Overlap          float64  `json:"overlap_correlation"` // of the area with that of the peak it is most mixed with; 0 for a peak by itself
	Significance     float64  `json:"significance"`
	PhaseIDs         []string `json:"phase_ids"`
	HKL              []string `json:"hkl"`  // parallel to phase_ids, "1 1 3"
	Kind             string   `json:"kind"` // "Kα", or the image of a stronger peak: "Kβ of 43.32", "W Lα of 43.32" (degrees 2θ)
}

// ReferenceFile is a source of reference data.
type ReferenceFile struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
	Phases int    `json:"phases"`
}

// Provenance says how the result came about.
type Provenance struct {
	Version       string            `json:"version"`
	Command       string            `json:"command"`
	Settings      any               `json:"settings"` // every flag, given or not
	Given         map[string]string `json:"given"`    // the flags that were given
	ReferenceData []ReferenceFile   `json:"reference_data"`
	Started       *time.Time        `json:"started"`
	ElapsedS      *float64          `json:"elapsed_s"`
}

// Curves are the parallel columns of fit.csv; Phases is parallel to Document.Phases.
type Curves struct {
	TwoTheta   []float64
	Observed   []float64
	Sigma      []float64
	Calculated []float64
	Background []float64
	Phases     [][]float64
	Masked     []bool // nil when nothing is masked
}

// An Analysis is what an analysis gives.
type Analysis struct {
	Document Document
	Curves   Curves
}

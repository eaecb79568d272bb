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
	Schema             string        `json:"schema"`              // always Schema
	Scan               Scan          `json:"scan"`                // what was measured, and what was said of it
	Explanation        *Explanation  `json:"explanation"`         // null when no phase was looked for
	Procedure          *Procedure    `json:"procedure"`           // null when no phase was looked for
	Phases             []Phase       `json:"phases"`              // those found or named and there, the largest first
	FractionCovariance [][]float64   `json:"fraction_covariance"` // wt%², order of Phases
	PhaseOrder         []string      `json:"phase_order"`         // ids in the order of their colours, the same for every scan of a run; empty: the order of Phases
	Absolute           *Absolute     `json:"absolute"`            // amorphous part by a standard; null without one
	SameSpecimen       *SameSpecimen `json:"same_specimen"`       // how scans of one specimen agree; null for one scan
	Factors            *Factors      `json:"factors"`             // null when none were used
	Absorption         Absorption    `json:"absorption"`          // "": no fractions
	// Least wt% of a phase beside the only one that was found which the scan would have shown, did it scatter like corundum (I/Ic = 1)
	// with lines of its own; null: several phases were found, or it is not known.
	HiddenLimit      *float64      `json:"hidden_limit_weight_percent"`
	Micrograph       *Micrograph   `json:"micrograph"`        // null without area fractions
	NotDetected      []NotDetected `json:"not_detected"`      // phases that were asked for and are not there
	UnexplainedPeaks []Unexplained `json:"unexplained_peaks"` // ascending angle
	Cautions         []xrd.Caution `json:"cautions"`          // doubts, the gravest first
	Fit              *Fit          `json:"fit"`               // agreement of the fit; null without one
	Peaks            []Peak        `json:"peaks"`             // found without any phase, ascending angle
	References       []Reference   `json:"references"`        // what the result rests on: methods, tables, and the source of each phase
	Choices          []string      `json:"choices"`           // made by hand while looking, in order and in words; null without any
	Provenance       Provenance    `json:"provenance"`        // how the result came about
}

// Scan describes the scan.
type Scan struct {
	File             string           `json:"file"`               // name as it was given
	SHA256           string           `json:"sha256"`             // of the file, hexadecimal
	Sample           string           `json:"sample"`             // name of the specimen; empty: not known
	Points           int              `json:"points"`             // that were used
	TwoThetaMin      float64          `json:"two_theta_min"`      // degrees, of the range that was used
	TwoThetaMax      float64          `json:"two_theta_max"`      // degrees
	Step             float64          `json:"step"`               // degrees 2θ
	Radiation        string           `json:"radiation"`          // name of the tube, or the wavelength
	Wavelength       float64          `json:"wavelength"`         // Kα1, Å
	RadiationAssumed bool             `json:"radiation_assumed"`  // nothing said what the tube is
	Slit             string           `json:"slit"`               // fixed:DEGREES or automatic:MM; empty: not known
	Geometry         string           `json:"geometry"`           // "reflection" or "transmission"
	RadiusMM         *float64         `json:"radius_mm"`          // of the goniometer, mm; null: not known
	SpecimenLengthMM *float64         `json:"specimen_length_mm"` // along the beam, mm; null: not known
	Section          string           `json:"section"`            // transverse, longitudinal, rolled or powder; empty: not known
	Mount            string           `json:"mount"`              // material about the specimen; empty: not known
	Intercepts       []Length         `json:"intercepts"`         // mean linear intercepts of the regions of a section, as stated
	InterceptCV2     *InterceptSpread `json:"intercept_cv2"`      // of the intercepts, as stated; null: 0.5 ± 0.3 is taken
	CountingTimeS    *float64         `json:"counting_time_s"`    // seconds a step; null: not known
	Simulated        string           `json:"simulated"`          // of a scan that was calculated: from what; empty for a measured one
	NoiseModel       string           `json:"noise_model"`        // "poisson", "recorded", "estimated"
}

// Reason is one piece of evidence for (or against) a phase.
type Reason struct {
	Code  string   `json:"code"`  // short and stable
	Text  string   `json:"text"`  // for people
	Value *float64 `json:"value"` // the number in the text; null: none
}

// PhaseLine is a line of a phase, expected against observed.
type PhaseLine struct {
	H         *int     `json:"h"`          // Miller index; null: the reference has none
	K         *int     `json:"k"`          // Miller index; null as h
	L         *int     `json:"l"`          // Miller index; null as h
	D         float64  `json:"d"`          // spacing of the reference, Å
	TwoTheta  float64  `json:"two_theta"`  // as found in this scan
	Expected  float64  `json:"expected"`   // integrated intensity of the model without texture, counts × degrees
	Observed  *float64 `json:"observed"`   // same unit, other phases' shares taken away
	ObservedU *float64 `json:"observed_u"` // standard uncertainty with the misfit of what overlaps; null outside the scan
	Own       bool     `json:"own"`        // stands clear of stronger phases
	// Verdict is what the line tells of its phase; "" in documents that are older than this key.
	Verdict LineVerdict `json:"verdict"`
}

// Texture is a fitted March–Dollase coefficient; r < 1: pole along the surface normal (plates).
type Texture struct {
	Pole [3]int  `json:"pole"` // normal of the plane, Miller indices
	R    float64 `json:"r"`    // March–Dollase coefficient
	RU   float64 `json:"r_u"`  // its standard uncertainty
}

// Sections is a fibre texture, with what sections of the piece across and along its axis show.
type Sections struct {
	Pole  [3]int        `json:"pole"`  // direction of the fibre, Miller indices
	R     float64       `json:"r"`     // March–Dollase about the axis
	Lines []SectionLine `json:"lines"` // the strongest
}

// SectionLine is a line with its intensity over that of a random powder in both sections.
type SectionLine struct {
	H            int     `json:"h"`            // Miller index
	K            int     `json:"k"`            // Miller index
	L            int     `json:"l"`            // Miller index
	Transverse   float64 `json:"transverse"`   // intensity over that without texture, surface across the axis
	Longitudinal float64 `json:"longitudinal"` // the same, surface along the axis
}

// Alternative is a phase that explains the same lines nearly as well.
type Alternative struct {
	ID   string  `json:"id"`   // of the reference
	Name string  `json:"name"` // of the phase
	Gain float64 `json:"gain"` // of its pattern over that of the phase: 1 is as good
	// Decide says in words what would tell the two apart.
	Decide string `json:"decide"`
}

// BudgetItem is one source of uncertainty of a weight fraction.
type BudgetItem struct {
	Source         string  `json:"source"`           // of uncertainty, in words
	UWeightPercent float64 `json:"u_weight_percent"` // standard uncertainty that it causes, wt%
}

// Phase is a phase with its fraction and its evidence.
type Phase struct {
	ID                       string        `json:"id"`                               // of the reference
	Name                     string        `json:"name"`                             // for people
	Formula                  string        `json:"formula"`                          // of the reference
	Source                   string        `json:"source"`                           // publication or file of its reference data; empty when not stated
	Origin                   string        `json:"origin"`                           // specimen, preparation, standard
	Evidence                 Evidence      `json:"evidence"`                         // established, probable, tentative; "named" when the user named it
	Reasons                  []Reason      `json:"reasons"`                          // for its level of evidence
	WeightPercent            *float64      `json:"weight_percent"`                   // wt% of the crystalline specimen, without standard and artefacts; null: not known or not counted
	WeightPercentLo          *float64      `json:"weight_percent_lo95"`              // lower end of the 95 % interval
	WeightPercentHi          *float64      `json:"weight_percent_hi95"`              // upper end of the 95 % interval
	VolumePercent            *float64      `json:"volume_percent"`                   // volume per cent of the same; null: not known
	VolumePercentLo          *float64      `json:"volume_percent_lo95"`              // lower end of the 95 % interval
	VolumePercentHi          *float64      `json:"volume_percent_hi95"`              // upper end of the 95 % interval
	OriginalWeightPercent    *float64      `json:"original_weight_percent"`          // wt% of the specimen as it was before a standard was added, amorphous part counted; null without a standard
	OriginalWeightPercentLo  *float64      `json:"original_weight_percent_lo95"`     // lower end of the 95 % interval
	OriginalWeightPercentHi  *float64      `json:"original_weight_percent_hi95"`     // upper end of the 95 % interval
	IfOwnWeightPercent       *float64      `json:"if_own_weight_percent"`            // wt% of the crystalline part if what preparation may have left belongs to the specimen; null for what is counted
	IfOwnLo                  *float64      `json:"if_own_weight_percent_lo95"`       // lower end of the 95 % interval
	IfOwnHi                  *float64      `json:"if_own_weight_percent_hi95"`       // upper end of the 95 % interval
	FineLimitWeightPercent   *float64      `json:"fine_limit_weight_percent"`        // of a section, were its regions small beside the beam's reach; null for a powder
	FineLimitLo              *float64      `json:"fine_limit_weight_percent_lo95"`   // lower end of the 95 % interval
	FineLimitHi              *float64      `json:"fine_limit_weight_percent_hi95"`   // upper end of the 95 % interval
	CoarseLimitWeightPercent *float64      `json:"coarse_limit_weight_percent"`      // were grains or regions large beside the beam's reach, wt%; null: not known
	CoarseLimitLo            *float64      `json:"coarse_limit_weight_percent_lo95"` // lower end of the 95 % interval
	CoarseLimitHi            *float64      `json:"coarse_limit_weight_percent_hi95"` // upper end of the 95 % interval
	DetectionLimit           *float64      `json:"detection_limit_weight_percent"`   // least amount of the phase that would have been seen, wt%; null: not known
	Depth95                  *float64      `json:"depth95_um"`                       // from which 95 % of the intensity of its strongest line in range comes, µm of the solid
	Hazards                  []Hazard      `json:"hazards"`                          // of its dust and of what etches it; empty when none is known, which does not mean harmless
	RIR                      *float64      `json:"rir"`                              // reference intensity ratio over corundum; null: not known
	RIROrigin                string        `json:"rir_origin"`                       // computed or measured
	RIRBasis                 string        `json:"rir_basis"`                        // of areas or of heights
	RIRRadiation             string        `json:"rir_radiation"`                    // tube that it holds for
	Density                  *float64      `json:"density"`                          // g/cm³; null: not known
	DensityOrigin            string        `json:"density_origin"`                   // computed or measured
	Scale                    float64       `json:"scale"`                            // integrated intensity of the strongest line, counts × degrees
	ScaleU                   float64       `json:"scale_u"`                          // standard uncertainty
	Cell                     *refdata.Cell `json:"cell"`                             // fitted edges (Å) and angles (degrees); null without a cell
	CellU                    *refdata.Cell `json:"cell_u"`                           // their standard uncertainties; null where the cell ended at the bound of what is tried
	SizeNM                   *float64      `json:"size_nm"`                          // apparent size of crystallites, nm; null: not calibrated, or too large to tell
	Strain                   *float64      `json:"strain"`                           // apparent microstrain e of Γ = 4 e tan θ, a plain ratio; null as the size
	Texture                  []Texture     `json:"texture"`                          // fitted coefficients; empty: none needed
	Sections                 *Sections     `json:"sections"`                         // of a drawn piece; null: no fibre
	Lines                    []PhaseLine   `json:"lines"`                            // expected against observed, ascending angle
	LineRIR                  *LineRIR      `json:"line_rir"`                         // check of the fraction by single lines; null: none made
	Alternatives             []Alternative `json:"alternatives"`                     // what explains the same lines about as well
	SameAs                   []string      `json:"same_as"`                          // ids of other entries of the reference data that are the same substance
	Budget                   []BudgetItem  `json:"budget"`                           // what the standard uncertainty of the fraction consists of
}

// LineRIR is the fraction as single fitted peaks give it, as a check of the whole-pattern answer. Intervals leave out the
// uncertainty of the reference intensity ratios, which both share.
type LineRIR struct {
	Lines               int      `json:"lines"`                      // free lines
	SingleTwoTheta      *float64 `json:"single_two_theta"`           // of that line, degrees; null: no line stands alone
	SingleWeightPercent *float64 `json:"single_weight_percent"`      // by the strongest of them alone
	SingleLo            *float64 `json:"single_weight_percent_lo95"` // lower end of the 95 % interval
	SingleHi            *float64 `json:"single_weight_percent_hi95"` // upper end of the 95 % interval
	MultiWeightPercent  *float64 `json:"multi_weight_percent"`       // by all of them
	MultiLo             *float64 `json:"multi_weight_percent_lo95"`  // lower end of the 95 % interval
	MultiHi             *float64 `json:"multi_weight_percent_hi95"`  // upper end of the 95 % interval
	Sigmas              float64  `json:"sigmas"`                     // multi less whole pattern over the standard uncertainty of both
}

// Absolute is the outcome of an internal or external standard.
type Absolute struct {
	Method                 string   `json:"method"`                        // internal or external standard
	Standard               string   `json:"standard"`                      // id of the standard
	StandardWeightPercent  *float64 `json:"standard_weight_percent"`       // of the scanned powder; null for an external one
	AmorphousWeightPercent *float64 `json:"amorphous_weight_percent"`      // of the original, before the standard was added
	AmorphousLo            *float64 `json:"amorphous_weight_percent_lo95"` // lower end of the 95 % interval
	AmorphousHi            *float64 `json:"amorphous_weight_percent_hi95"` // upper end of the 95 % interval
	KFactor                *float64 `json:"k_factor"`                      // of an external standard, counts × degrees × cm²/g
	KFactorU               *float64 `json:"k_factor_u"`                    // its standard uncertainty
	MassAttenuation        *float64 `json:"mass_attenuation"`              // of everything scanned, cm²/g
	MassAttenuationU       *float64 `json:"mass_attenuation_u"`            // its standard uncertainty
	AttenuationFrom        string   `json:"mass_attenuation_from"`         // "composition" or "phases"; empty without external standard
}

// SameSpecimen tells how several scans of one specimen, whose fractions were determined together, agree.
type SameSpecimen struct {
	Scans     []ScanOf `json:"scans"`            // what each says alone
	ChiSquare *float64 `json:"chi_square"`       // of the scans about the joint answer; null: not known
	Freedom   int      `json:"freedom"`          // its degrees of freedom
	P         *float64 `json:"p"`                // of a larger χ² by chance
	Between   *float64 `json:"between_relative"` // relative standard deviation of amounts between scans beyond counting
}

// ScanOf is one scan of a specimen, alone.
type ScanOf struct {
	File    string    `json:"file"`    // name as it was given
	SHA256  string    `json:"sha256"`  // of the file, hexadecimal
	Section string    `json:"section"` // as in the scan's own document
	Phases  []PhaseOf `json:"phases"`  // by that scan alone
}

// PhaseOf is a phase as one scan shows it.
type PhaseOf struct {
	ID              string    `json:"id"`                  // of the reference
	WeightPercent   *float64  `json:"weight_percent"`      // as in Phase
	WeightPercentLo *float64  `json:"weight_percent_lo95"` // lower end of the 95 % interval
	WeightPercentHi *float64  `json:"weight_percent_hi95"` // upper end of the 95 % interval
	Texture         []Texture `json:"texture"`             // of that scan
}

// NotDetected is a phase that was looked for and not found.
type NotDetected struct {
	ID             string   `json:"id"`                             // of the reference
	Name           string   `json:"name"`                           // of the phase
	DetectionLimit *float64 `json:"detection_limit_weight_percent"` // least amount that would have been seen, wt%; null: not known
	Asked          bool     `json:"asked"`                          // the user named it; otherwise it stands on the preparation watch-list
}

// Unexplained is a peak that no accepted phase explains.
type Unexplained struct {
	TwoTheta     float64  `json:"two_theta"`    // degrees
	D            float64  `json:"d"`            // spacing, Å
	Significance float64  `json:"significance"` // height or area over its standard uncertainty
	CouldBe      []string `json:"could_be"`     // ids of phases that have a strong line there, the likeliest first
}

// Fit holds the agreement of the whole-pattern fit.
type Fit struct {
	RWP              float64  `json:"r_wp"`                       // fraction, not per cent
	RWPBackground    float64  `json:"r_wp_background_subtracted"` // the same with the background taken away
	RExp             float64  `json:"r_exp"`                      // expected R_wp from counting alone, fraction
	ReducedChiSquare float64  `json:"reduced_chi_square"`         // χ² over the degrees of freedom
	DurbinWatson     float64  `json:"durbin_watson"`              // of the residuals: 2 when they are independent
	ZeroShift        float64  `json:"zero_shift"`                 // degrees 2θ
	DisplacementMM   *float64 `json:"displacement_mm"`            // of the surface below the focusing plane, mm; null in transmission
	Iterations       int      `json:"iterations"`                 // of the last fit
	Background       int      `json:"background_intervals"`       // of the spline, chosen by an information criterion
	Status           string   `json:"status"`                     // "converged", or how else it ended
	// Undetermined names parameters that the data leave open, Correlated pairs with |ρ| > 0.95.
	Undetermined []string      `json:"undetermined"`
	Correlated   []Correlation `json:"correlated"` // see undetermined
}

// Correlation is a pair of parameters that the scan hardly separates.
type Correlation struct {
	A   string  `json:"a"`   // name of a parameter
	B   string  `json:"b"`   // name of the other
	Rho float64 `json:"rho"` // coefficient, −1 to 1
}

// Peak is a found peak with the phases that explain it.
type Peak struct {
	TwoTheta         float64  `json:"two_theta"`             // of Kα1, degrees
	TwoThetaU        float64  `json:"two_theta_u"`           // standard uncertainty
	D                float64  `json:"d"`                     // spacing, Å
	Height           float64  `json:"height"`                // counts above background
	HeightU          float64  `json:"height_u"`              // standard uncertainty
	Area             float64  `json:"area"`                  // counts × degrees
	AreaU            float64  `json:"area_u"`                // standard uncertainty
	FWHM             float64  `json:"fwhm"`                  // of Kα1, degrees
	FWHMU            float64  `json:"fwhm_u"`                // standard uncertainty
	IntegralBreadth  float64  `json:"integral_breadth"`      // area over height of Kα1 alone
	IntegralBreadthU float64  `json:"integral_breadth_u"`    // standard uncertainty
	AreaFWHM         float64  `json:"area_fwhm_correlation"` // correlation of area and width, −1 to 1
	Overlap          float64  `json:"overlap_correlation"`   // of the area with that of the peak it is most mixed with; 0 for a peak by itself
	Significance     float64  `json:"significance"`          // area over its standard uncertainty, misfit of neighbours counted
	PhaseIDs         []string `json:"phase_ids"`             // phases that have a line there; empty: none
	HKL              []string `json:"hkl"`                   // parallel to phase_ids, "1 1 3"
	Kind             string   `json:"kind"`                  // "Kα", or the image of a stronger peak: "Kβ of 43.32", "W Lα of 43.32" (degrees 2θ)
}

// ReferenceFile is a source of reference data.
type ReferenceFile struct {
	File   string `json:"file"`   // name; "starter" for the phases of the program
	SHA256 string `json:"sha256"` // hexadecimal
	Phases int    `json:"phases"` // that it holds
}

// Provenance says how the result came about.
type Provenance struct {
	Version       string            `json:"version"`        // of the program
	Command       string            `json:"command"`        // that was run
	Settings      any               `json:"settings"`       // every flag, given or not
	Given         map[string]string `json:"given"`          // the flags that were given
	ReferenceData []ReferenceFile   `json:"reference_data"` // in the order in which it was read
	Started       *time.Time        `json:"started"`        // time of day; null: not recorded
	ElapsedS      *float64          `json:"elapsed_s"`      // seconds
}

// Curves are the parallel columns of fit.csv; Phases is parallel to Document.Phases.
type Curves struct {
	TwoTheta   []float64   // degrees, ascending; all other columns are parallel to it
	Observed   []float64   // intensity, counts
	Sigma      []float64   // standard uncertainty of that
	Calculated []float64   // by the fit; NaN where it has no point
	Background []float64   // part of it
	Phases     [][]float64 // part of each phase, parallel to Document.Phases
	Masked     []bool      // nil when nothing is masked
}

// An Analysis is what an analysis gives.
type Analysis struct {
	Document Document // everything but the points
	Curves   Curves   // the points
}

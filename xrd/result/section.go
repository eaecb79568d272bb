package result

// Absorption says how the absorption in single grains entered the fractions.
type Absorption string

// The ways. AbsorptionLimits: the specimen is a section of which no intercept is stated; fractions are the mean of those of a
// fine and of a coarse structure, and intervals hold both. AbsorptionEither: nobody said whether it is a powder or a section;
// fractions are those of a fine powder, and intervals hold both.
const (
	AbsorptionFine    Absorption = "fine"    // as in a fine powder, or after Brindley with stated grain sizes
	AbsorptionMosaic  Absorption = "mosaic"  // by the model of a section with stated intercepts
	AbsorptionLimits  Absorption = "limits"  // between both limits
	AbsorptionEither  Absorption = "either"  // powder or section not stated
	AbsorptionUnknown Absorption = "unknown" // as in a fine powder, although a section: the absorption of a phase is not known
)

// spans reports whether intervals run from one limit to the other.
func (a Absorption) spans() bool { return a == AbsorptionLimits || a == AbsorptionEither }

// Spanned reports whether fractions are between two limits that differ so that they must be told as such: a phase alone is all of it
// in both.
func (d Document) Spanned() bool {
	with := 0
	for _, p := range d.Phases {
		if p.CoarseLimitWeightPercent != nil {
			with++
		}
	}
	return d.Absorption.spans() && with > 1
}

// A Length is a mean linear intercept.
type Length struct {
	ID     string  `json:"id"`       // of the phase; empty: of all regions that no other entry names
	Micron float64 `json:"micron"`   // µm
	U      float64 `json:"micron_u"` // standard uncertainty
}

// An InterceptSpread is how much intercepts differ: the square of their standard deviation over their mean.
type InterceptSpread struct {
	CV2 float64 `json:"cv2"`   // variance over the square of the mean
	U   float64 `json:"cv2_u"` // standard uncertainty
}

// A Hazard is what the dust of a phase, or what etches it, can do.
type Hazard struct {
	Code string `json:"code"` // the substance, such as "lead"
	Text string `json:"text"` // in words
}

// A Micrograph compares area fractions with diffraction.
type Micrograph struct {
	Phases    []AreaOf `json:"phases"`     // those with an area fraction, then the others of the specimen
	ChiSquare *float64 `json:"chi_square"` // of the differences; null: not known
	Freedom   int      `json:"freedom"`    // its degrees of freedom
	P         *float64 `json:"p"`          // of a larger χ² by chance
	Agree     bool     `json:"agree"`      // otherwise nothing is combined
}

// AreaOf is a phase on the micrograph and in the scan; per cent of the volume, which the area is by Delesse's principle.
type AreaOf struct {
	ID               string   `json:"id"`                           // of the phase
	AreaPercent      *float64 `json:"area_percent"`                 // null: not measured
	AreaU            *float64 `json:"area_percent_u"`               // standard uncertainty
	VolumePercent    *float64 `json:"volume_percent"`               // by diffraction
	VolumeU          *float64 `json:"volume_percent_u"`             // standard uncertainty
	Z                *float64 `json:"z"`                            // difference over the standard uncertainty of both
	CombinedVolume   *float64 `json:"combined_volume_percent"`      // volume per cent by both; null: not combined
	CombinedVolumeLo *float64 `json:"combined_volume_percent_lo95"` // lower end of the 95 % interval
	CombinedVolumeHi *float64 `json:"combined_volume_percent_hi95"` // upper end of the 95 % interval
	CombinedWeight   *float64 `json:"combined_weight_percent"`      // wt% by both; null: not combined
	CombinedWeightLo *float64 `json:"combined_weight_percent_lo95"` // lower end of the 95 % interval
	CombinedWeightHi *float64 `json:"combined_weight_percent_hi95"` // upper end of the 95 % interval
}

// Of returns what is known of a phase, nothing for a comparison that is nil.
func (m *Micrograph) Of(id string) AreaOf {
	if m != nil {
		for _, a := range m.Phases {
			if a.ID == id {
				return a
			}
		}
	}
	return AreaOf{}
}

// Spanned reports whether the fractions of a scan are between two limits that differ so that they must be told as such.
func (e SeriesEntry) Spanned() bool {
	with := 0
	for _, p := range e.Phases {
		if p.CoarseLimit != nil {
			with++
		}
	}
	return e.Absorption.spans() && with > 1
}

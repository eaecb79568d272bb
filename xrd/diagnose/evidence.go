package diagnose

import (
	"slices"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// Evidence is everything that the checks read: nothing in it is changed by them.
type Evidence struct {
	Facts       Facts                 // what the user said
	Scan        xrd.Scan              // the points that were analysed
	Found       peaks.Found           // peaks and noise of the scan
	Explanation *identify.Explanation // nil when no phase was looked for
	Decided     Decisions             // on the way
	Amounts     Amounts               // fractions with what they rest on
	Order       []int                 // matches of the explanation in the order of the document's phases
	Document    result.Document       // all but its cautions
}

// Facts are what was said of a scan and of what is wanted.
type Facts struct {
	Radiation        xrd.Radiation         // of the tube
	RadiationAssumed bool                  // nobody said what the tube is
	Instrument       xrd.Instrument        // with the widths of its lines
	Specimen         xrd.Specimen          // what was put in the beam
	Thickness        float64               // of the specimen, mm; 0 when not stated
	WantedLimit      float64               // detection limit that is wanted for phases that were asked for, wt%; 0 means 2
	Masks            [][2]float64          // ranges left out, degrees 2θ
	Preparations     []refdata.Preparation // what mounts and holders may bring
	Composition      []ElementAmount       // measured chemistry; nil for none
	Aside            []string              // ids of phases that were stated to be left by preparation
	Elements         refdata.ElementSet    // of the specimen, as stated; empty: any
	Named            bool                  // the phases were named; nothing was searched
	AskedFor         int                   // how many phases were named, when a search among them chose; 0 otherwise
	References       int                   // phases of the reference data
	Spike            *StandardAdded        // nil for none
	External         *StandardScan         // nil for none, and beside a spike
	Blank            bool                  // a blank was given
	BlankShare       float64               // of the peak area of the scan that stands in the blank, too, 0 to 1
}

// An ElementAmount is measured chemistry: wt% with standard uncertainty (0: 3 % relative, at least 0.5 wt%, is taken).
type ElementAmount struct {
	Symbol           string  // of the element
	WeightPercent, U float64 // wt% and its standard uncertainty
}

// StandardAdded is a standard that was mixed into the powder, wt% of the whole.
type StandardAdded struct {
	ID            string  // of its phase
	WeightPercent float64 // of the spiked powder
}

// StandardScan is an external standard.
type StandardScan struct {
	Given     bool // as a constant; otherwise as a scan
	TimeKnown bool // the counting times of both scans are known
}

// Decisions are what an analysis decided on the way, because the scan asked for it.
type Decisions struct {
	Slit    *Slit         // corrected although nobody stated it; nil for nothing
	Anchor  *FalseAnchor  // the anchor that was given and does not hold; nil when it does
	Twins   []Twin        // named phases that are left to others
	Watched []WatchedSeen // phases that were watched and seem to be there
	Tube    *Tube         // that explains far more than the one the scan was read with; nil for none
}

// A Tube is another radiation than the one a scan was read with.
type Tube struct {
	Name  string  // of the tube that explains more
	Share float64 // of the peak area that is explained with it, 0 to 1; not known when halved
	// Halved: the scan was read with one wavelength of it, its Kα1 or the mean of the doublet, and shows Kα1 and Kα2 apart.
	Halved bool
}

// A Slit is a correction of intensities for a divergence slit that the data decided.
type Slit struct {
	Automatic bool    // the slit opens with the angle; else the beam is longer than the specimen
	Full      float64 // degrees 2θ above which the beam is no longer than the specimen, for one that is not automatic
	FullU     float64 // its standard uncertainty
	Gain      float64 // χ² of lines by which it is better than no correction
	Lines     int     // on which it rests
}

// A FalseAnchor is an anchor of another cell than its reference.
type FalseAnchor struct {
	Phase     refdata.Phase // that was to fix the angle scale
	Change, U float64       // relative change of an edge and its standard uncertainty
}

// A Twin is a named phase that was not fitted because another named phase has its lines.
type Twin struct {
	Phase refdata.Phase // that cannot be told from another
	Of    string        // id of the phase that was fitted for both
}

// WatchedSeen is a phase whose limit was asked for although its pattern is seen beside the named ones.
type WatchedSeen struct {
	Phase        refdata.Phase // that was watched
	Significance float64       // standard uncertainties
}

// Amounts are the fractions with what they rest on; slices are parallel to the matches of the explanation.
type Amounts struct {
	Roles    []quantify.Role      // of the phases in the fractions
	Answer   quantify.Answer      // the fractions
	Checks   []quantify.LineCheck // nil when nothing can be compared
	Planes   []*[3]int            // the only planes that a phase shows; nil for one that shows all
	Areas    []quantify.Area      // on a micrograph; nil for none
	Image    *quantify.Micrograph // what they say beside the answer; nil for none
	Grain    []float64            // diameters, µm; nil for none
	Constant *quantify.External   // of the external standard; nil without one, or when it does not tell
	Without  Missing              // why it does not
	// Impossible says why amounts that a standard would give cannot be; empty when they can. They are left out of the answer then.
	Impossible string
	// NoHump is the amorphous part that a standard tells of and whose hump the background lacks; nil where there is none. Absolute amounts are
	// left out of the answer then.
	NoHump *MissingHump
	// Belonging are the fractions as they would be if what preparation may have left belonged to the specimen; nil where nothing is left out.
	Belonging []quantify.Fraction
	// Counted marks phases that preparation may have left and that nobody claimed, counted as the specimen's own for their amount; nil for
	// none.
	Counted []bool
}

// Missing says why an external standard gives nothing, and what to do; empty when it does.
type Missing struct{ Why, Remedy string }

// place returns where match i stands in the document, -1 for one that is not there.
func (e Evidence) place(i int) int { return slices.Index(e.Order, i) }

// fitted reports whether there is a fit with phases.
func (e Evidence) fitted() bool {
	return e.Explanation != nil && e.Explanation.Fit != nil && len(e.Explanation.Matches) > 0
}

// isMasked reports whether an angle, degrees 2θ, was left out.
func (f Facts) isMasked(twoTheta float64) bool {
	return slices.ContainsFunc(f.Masks, func(m [2]float64) bool { return twoTheta >= m[0] && twoTheta <= m[1] })
}

package plan

import (
	"errors"
	"fmt"
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

// ErrRequest says that nothing can be planned from a request; test with errors.Is.
var ErrRequest = errors.New("cannot be planned")

// A Request is a specimen, a scan and a question. Zero values mean not stated.
type Request struct {
	WeightPercent []float64      // of each phase
	Tubes         []Tube         // the first is the one that is used; all are compared
	Instrument    xrd.Instrument // that will be used
	BeamWidth     float64        // mm across; 0 means DefaultBeamWidth

	Length, Width float64               // mm; 0: larger than the beam
	Wire          float64               // diameter of a wire, mm
	Pieces        int                   // wires side by side; 0 means 1
	Section       string                // transverse, longitudinal, rolled or powder; empty: not stated
	Mount         string                // material about the specimen; empty: not stated
	Table         []refdata.Preparation // nil: the table that is compiled in
	Intercept     float64               // mean intercept of the grains, µm
	Layer         float64               // µm

	Lo, Hi, Step, Time float64 // degrees 2θ, s
	Rate, Background   float64 // counts/s, see simulate.Job; the background without fluorescence
	Discriminates      bool    // the detector or a monochromator keeps fluorescence out
	References         int     // phases that an analysis would choose among, for its threshold
	WantedLimit        float64 // wt%
	WantedHalf         float64 // half width of a 95 % interval, wt%

	Earlier       *result.Analysis // of the same instrument; nil for none
	EarlierPhases []refdata.Phase  // its phases for the first tube, as far as they are known; nil: those of the plan
}

// A Tube is a radiation with the phases computed for it, parallel to WeightPercent.
type Tube struct {
	Radiation xrd.Radiation   // of the tube
	Phases    []refdata.Phase // of the specimen with their lines for it
}

// DefaultBeamWidth is how wide the beam is across, mm (common practice for a line focus of 10 to 12 mm).
const DefaultBeamWidth = 10.0

// check refuses what cannot be, in one line.
func (q Request) check() error {
	if len(q.Tubes) == 0 || len(q.WeightPercent) == 0 {
		return fmt.Errorf("%w: no phase is named", ErrRequest)
	}
	for _, c := range []struct {
		what  string
		v, hi float64
	}{{"specimen length", q.Length, 1000}, {"specimen width", q.Width, 1000}, {"wire diameter", q.Wire, 100}, {"intercept", q.Intercept, 1e5},
		{"layer", q.Layer, 1e5}, {"beam width", q.BeamWidth, 100}, {"wanted limit", q.WantedLimit, 100}, {"wanted interval", q.WantedHalf, 100}} {
		if !(c.v >= 0 && c.v <= c.hi) {
			return fmt.Errorf("%w: %s %g; give 0 (not stated) to %g", ErrRequest, c.what, c.v, c.hi)
		}
	}
	if q.Pieces < 0 || q.Pieces > 1000 || q.Pieces > 1 && !(q.Wire > 0) {
		return fmt.Errorf("%w: %d pieces; give their diameter as wire and a number up to 1000", ErrRequest, q.Pieces)
	}
	if q.Wire > 0 && (q.Length > 0 && q.Section != "longitudinal" || q.Width > 0) {
		return fmt.Errorf("%w: a wire and a length or width; the wire says both (a longitudinal section needs its length)", ErrRequest)
	}
	if q.Intercept > 0 && q.Section == "powder" {
		return fmt.Errorf("%w: an intercept is that of a section and the specimen is a powder; leave one of them out", ErrRequest)
	}
	if !(q.Hi > q.Lo) || !(q.Lo > 0) {
		return fmt.Errorf("%w: range %g° to %g°; give two ascending angles", ErrRequest, q.Lo, q.Hi)
	}
	if s := q.Instrument.Slit; s.Mode == xrd.SlitFixed && q.length() > 0 && q.length() < 0.5 {
		return fmt.Errorf("%w: a specimen %g mm long; nothing but its mount would be seen below 90°", ErrRequest, q.length())
	}
	return nil
}

func (q Request) table() []refdata.Preparation {
	if q.Table == nil {
		return refdata.Preparations()
	}
	return q.Table
}

func (q Request) pieces() int { return max(1, q.Pieces) }

// length is along the beam, mm: wires that are cut across lie in a row along it.
func (q Request) length() float64 {
	if q.Wire > 0 && q.Section != "longitudinal" {
		return q.Wire * float64(q.pieces())
	}
	return q.Length
}

// width is across the beam, mm: wires that are cut along lie side by side.
func (q Request) width() float64 {
	switch {
	case q.Wire > 0 && q.Section == "longitudinal":
		return q.Wire * float64(q.pieces())
	case q.Wire > 0:
		return q.Wire
	}
	return q.Width
}

func (q Request) beamWidth() float64 {
	if q.BeamWidth > 0 {
		return q.BeamWidth
	}
	return DefaultBeamWidth
}

// acrossShare is the share of the beam's width that the specimen takes.
func (q Request) acrossShare() float64 {
	if w := q.width(); w > 0 {
		return math.Min(1, w/q.beamWidth())
	}
	return 1
}

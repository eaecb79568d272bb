package identify

import (
	"math"
	"strings"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// A Collection is a set of phases that can be screened without computing all their lines. Methods must be safe for
// concurrent use.
type Collection interface {
	Len() int
	Entry(i int) refdata.Entry
	Phase(i int, beam refdata.Beam) (refdata.Phase, error)
}

// A Job is a scan to explain.
type Job struct {
	Setup      pattern.Setup // points, noise, radiation, instrument, specimen, blank; its phases are ignored
	Beam       refdata.Beam  // that lines of phases are computed for
	Collection Collection    // of the phases that may be there
	Known      Collection    // phases that names are compared with, in the reference data or not; nil for none
	Filter     Filter        // which of the collection may be named
	Peaks      []peaks.Peak  // of the scan, found without any phase; nil: they are looked for
	Workers    int           // 0 means 2
	// Progress, when not nil, is told what is being tried and what explains the scan so far; calls do not overlap. It changes nothing.
	Progress func(result.Progress)

	// Work, when above 0, stands in for EffortPolicy.Work: a search that has taken as much goes no further, and says so.
	Work float64

	// OtherTube says that the radiation is another one than was stated, to see what it would explain: no third one is asked for, and the search may
	// take a part of the work (EffortPolicy.TubeShare).
	OtherTube bool

	likely bool // screening speaks for that: the search ends when strong phases explain less than half of the peaks, and may name few
}

// peaks returns the peaks of the scan.
func (j Job) peaks() []peaks.Peak {
	if j.Peaks != nil {
		return j.Peaks
	}
	scan, err := xrd.NewScan(j.Setup.TwoTheta, j.Setup.Intensity, nil, xrd.ScanInfo{})
	if err != nil {
		return nil
	}
	return peaks.Find(scan, j.Setup.Radiation, peaks.Settings{}).Peaks
}

// A Filter says which phases may be named. Ids are compared without regard to case.
type Filter struct {
	Elements refdata.ElementSet // empty: any
	Strict   bool               // do not add the elements of air and etch to Elements
	Require  []string           // ids that must be part of the answer
	Exclude  []string           // ids that must not
	Own      map[string]bool    // lower-case ids of phases of the watch-list that the user supplied: no preparation artefacts of theirs
}

// airAndEtch are O, H, C, N, Cl and S, which any specimen may have met.
var airAndEtch = refdata.ElementSet{}.With(8).With(1).With(6).With(7).With(17).With(16)

// Allows reports whether a phase may be tried.
func (f Filter) Allows(e refdata.Entry) bool { return f.allows(e) }

// allows reports whether a phase may be tried. The preparation watch-list is outside the element filter, but see outside.
func (f Filter) allows(e refdata.Entry) bool {
	if contains(f.Exclude, e.ID) {
		return false
	}
	if f.Elements == (refdata.ElementSet{}) || e.Preparation != "" || contains(f.Require, e.ID) {
		return true
	}
	return f.inside(e)
}

// inside reports whether a phase has only elements that may be there.
func (f Filter) inside(e refdata.Entry) bool {
	allowed := f.Elements
	if !f.Strict {
		allowed = allowed.Union(airAndEtch)
	}
	return e.Elements.Within(allowed) && e.Elements != (refdata.ElementSet{})
}

// outside reports whether a phase may be tried only because it is on the preparation watch-list: others come first, and its
// lines must be beyond doubt.
func (f Filter) outside(e refdata.Entry) bool {
	return f.Elements != (refdata.ElementSet{}) && !contains(f.Require, e.ID) && !f.inside(e)
}

func contains(ids []string, id string) bool {
	for _, s := range ids {
		if strings.EqualFold(s, id) {
			return true
		}
	}
	return false
}

// Threshold returns the significance, in standard uncertainties, that the scale of a phase must reach when tried
// phases compete: the Gaussian quantile at which tried × Misplacements looks give FalseAlarm, both of the policy's Search.
func Threshold(tried int) float64 {
	p := policy.Search.FalseAlarm / (float64(max(1, tried)) * policy.Search.Misplacements)
	return math.Sqrt2 * math.Erfcinv(2*p)
}

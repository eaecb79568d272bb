package analysis

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// An Answered is an analysis that can be asked further without being made again. It does not change.
type Answered struct {
	result.Analysis
	m measured
}

// Answer analyses a scan as Run does, to the same result, and keeps what questions about it need.
func Answer(ctx context.Context, job Job) (*Answered, error) {
	m, err := measure(ctx, job, given{})
	if err != nil {
		return nil, err
	}
	return &Answered{m.finish(), m}, ctx.Err()
}

const (
	// near is how far, relative to its spacing, a line may lie from where it is asked for: cell and displacement (common practice).
	near = 0.004
	// mostTried bounds how many phases are calculated for one question; those whose strongest lines lie there come first.
	mostTried = 60
	// strongShare is the intensity over the strongest from which a line that is not there speaks against a phase (common practice:
	// texture seldom takes a line of a third of the strongest from sight).
	strongShare = 0.3
)

// Candidates lists phases that have a strong line at an angle, degrees 2θ, whatever the filter: those that explain most of what
// the phases of the answer leave come first. Each is calculated in its reference cell with the displacement of the fit.
func (a *Answered) Candidates(ctx context.Context, twoTheta float64) ([]result.Candidate, error) {
	out := []result.Candidate{}
	if a.m.identified == nil || a.m.identified.Fit == nil {
		return out, nil
	}
	tolerance := math.Max(0.05, 2*xrd.Degrees(near*math.Tan(xrd.Radians(twoTheta/2)))) // 2 Δd/d tan θ
	job := a.m.job
	for _, s := range identify.Explain(job.Collection, job.Filter, twoTheta, tolerance, job.Radiation.KAlpha1) {
		if len(out) == mostTried {
			break
		}
		if a.m.matchOf(s.ID) >= 0 {
			continue
		}
		c, err := a.candidate(ctx, s)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(x, y result.Candidate) int {
		return cmp.Or(cmp.Compare(y.Significance*float64(y.Seen)/float64(max(1, y.Expected)), x.Significance*float64(x.Seen)/float64(max(1, x.Expected))),
			cmp.Compare(x.Rank, y.Rank))
	})
	return out, nil
}

// Candidate calculates one phase beside those of the answer.
func (a *Answered) Candidate(ctx context.Context, id string) (result.Candidate, error) {
	i, err := Find(a.m.job.Collection, id)
	if err != nil {
		return result.Candidate{}, err
	}
	e := a.m.job.Collection.Entry(i)
	s := result.Suspect{Index: i, ID: e.ID, Name: e.Name, Formula: e.Formula, Preparation: e.Preparation != "", Inside: true}
	if a.m.identified == nil || a.m.identified.Fit == nil {
		return result.Candidate{Suspect: s, Curve: make([]float64, len(a.Curves.TwoTheta))}, nil
	}
	return a.candidate(ctx, s)
}

// candidate calculates what a suspect would add.
func (a *Answered) candidate(ctx context.Context, s result.Suspect) (result.Candidate, error) {
	c := result.Candidate{Suspect: s}
	p, err := a.m.job.Collection.Phase(s.Index, a.m.beam)
	if err != nil {
		c.Decide = "its lines cannot be calculated: " + err.Error()
		return c, ctx.Err()
	}
	fit := a.m.identified.Fit
	set := fit.Setup
	set.Start.Values = fit.Values()
	d, _ := fit.Get(pattern.Displacement, -1)
	curve := pattern.Calculate(set, p, 1, d.Value, 0)
	if c.Significance, err = fit.SignificanceBeside(ctx, curve, fit.Variance); err != nil {
		return c, err
	}
	floats.Scale(amplitude(fit, curve), curve)
	c.Curve = curve
	a.countLines(&c, p, d.Value)
	return c, nil
}

// amplitude is the scale at which a curve explains most of what a fit leaves, at least 0.
func amplitude(fit *pattern.Fit, curve []float64) float64 {
	var up, down float64
	for i, v := range curve {
		w := v / fit.Variance[i]
		up, down = up+w*(fit.Setup.Intensity[i]-fit.Fitted[i]), down+w*v
	}
	if !(up > 0 && down > 0) {
		return 0
	}
	return up / down
}

// countLines says which of the strong lines of a candidate have a peak at their place, and what would decide about it.
func (a *Answered) countLines(c *result.Candidate, p refdata.Phase, displacement float64) {
	lo, hi := a.m.scan.Range()
	var missing, seen *refdata.Line
	for i, l := range p.Lines {
		if l.TwoTheta < lo || l.TwoTheta > hi || l.Intensity < 100*strongShare {
			continue
		}
		c.Expected++
		if a.peakAt(l.TwoTheta) {
			c.Seen++
			if seen == nil || l.Intensity > seen.Intensity {
				seen = &p.Lines[i]
			}
		} else if missing == nil || l.Intensity > missing.Intensity {
			missing = &p.Lines[i]
		}
		c.Lines = append(c.Lines, l.TwoTheta)
	}
	var ways []string
	if missing != nil {
		ways = append(ways, fmt.Sprintf("its line at %.2f° (%.0f %% of the strongest) should be there and is not seen", missing.TwoTheta, missing.Intensity))
	} else if seen != nil {
		ways = append(ways, "every strong line of it has a peak; a search, or its fraction, says more")
	}
	if others := a.otherElements(*c); others != "" {
		ways = append(ways, "an analysis for "+others+", which no phase of the answer has")
	}
	c.Decide = strings.Join(ways, "; ")
}

// peakAt reports whether a peak was found near an angle.
func (a *Answered) peakAt(twoTheta float64) bool {
	reach := 2 * xrd.Degrees(near*math.Tan(xrd.Radians(twoTheta/2)))
	return slices.ContainsFunc(a.m.found.Peaks, func(q peaks.Peak) bool { return math.Abs(q.TwoTheta-twoTheta) <= math.Max(reach, q.FWHM/2) })
}

// otherElements names the elements of a candidate that no phase of the answer has.
func (a *Answered) otherElements(c result.Candidate) string {
	known := refdata.ElementSet{}
	for _, p := range a.Document.Phases {
		if i, err := Find(a.m.job.Collection, p.ID); err == nil {
			known = known.Union(a.m.job.Collection.Entry(i).Elements)
		}
	}
	own := a.m.job.Collection.Entry(c.Index).Elements
	var names []string
	for z := 1; z <= 118; z++ {
		if e, ok := element.ByZ(z); ok && own.Has(z) && !known.Has(z) {
			names = append(names, e.Symbol)
		}
	}
	return strings.Join(names, ", ")
}

package plan

import (
	"context"
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/simulate"
)

// expected is a scan as it will come out on average, and what an analysis will say of it.
type expected struct {
	scan   simulate.Scan
	fit    *pattern.Fit // of one scan
	limits []float64    // detection limit of each phase, which a search names in 95 % of such scans, wt%; NaN when unknown
	halves []float64    // half width of its 95 % interval, wt%
}

// job describes the scan of a tube for a time per step.
func (q Request) job(t Tube, lo, hi, background, time float64) simulate.Job {
	j := simulate.Job{Radiation: t.Radiation, Instrument: q.Instrument, Specimen: xrd.Specimen{Length: q.length()}, Lo: lo, Hi: hi, Step: q.Step, Time: time,
		Rate: q.Rate * q.acrossShare(), Background: background, Intercept: q.Intercept}
	for i, p := range t.Phases {
		p.Lines = linesUpTo(p.Lines, hi+beyond)
		j.Components = append(j.Components, simulate.Component{Phase: p, WeightPercent: q.WeightPercent[i]})
	}
	return j
}

// interceptU is the relative standard uncertainty of an intercept that is stated without one, as in package xrd.
const interceptU = 0.3

// regions is what an analysis would be told of a section, or of what may be one; nil for a powder.
func (q Request) regions() *quantify.Section {
	switch {
	case q.Intercept > 0:
		return &quantify.Section{Common: q.Intercept, CommonU: interceptU}
	case q.Section == "":
		return &quantify.Section{Perhaps: true}
	case q.Section != "powder":
		return &quantify.Section{}
	}
	return nil
}

// beyond is how far above the range an analysis takes lines into account, degrees 2θ. What is not known of a reference intensity ratio
// depends on them.
const beyond = 3.0

func linesUpTo(lines []refdata.Line, most float64) []refdata.Line {
	n := 0
	for n < len(lines) && lines[n].TwoTheta <= most {
		n++
	}
	return lines[:n:n]
}

// expect counts a scan several times, with fixed seeds, and lets each be judged as an analysis does; limits and intervals are
// geometric means. Without noise the analysis would judge residuals that no counted scan has.
func (q Request) expect(ctx context.Context, j simulate.Job, times int) (expected, error) {
	var e expected
	var err error
	if e.scan, err = simulate.Run(j); err != nil {
		return e, err
	}
	n := len(j.Components)
	e.limits, e.halves = make([]float64, n), make([]float64, n)
	for seed := range times {
		s := j.Setup(e.scan.TwoTheta)
		s.Intensity, s.Sigma = simulate.Count(e.scan.Expected, uint64(seed)+1), make([]float64, len(e.scan.Expected))
		for i, y := range s.Intensity {
			s.Sigma[i] = math.Sqrt(math.Max(1, y))
		}
		s.Start, s.Poles = pattern.Start{}, nil // an analysis does not know the truth either
		fit, err := quantify.FitKnown(ctx, s)
		if err != nil {
			return e, err
		}
		if e.fit == nil {
			e.fit = fit
		}
		answer := quantify.Run(quantify.Input{Fit: fit, Roles: make([]quantify.Role, len(s.Phases)), Threshold: q.threshold(), Section: q.regions()})
		for i, f := range answer.Fractions {
			e.limits[i] += math.Log(f.Limit) / float64(times)
			e.halves[i] += math.Log((f.Weight.Hi-f.Weight.Lo)/2) / float64(times)
		}
	}
	for i := range e.limits {
		e.limits[i], e.halves[i] = math.Exp(e.limits[i]), math.Exp(e.halves[i])
	}
	return e, nil
}

// repeats is how many scans are counted for the tube that is used; others get one.
const repeats = 3

// threshold is the significance at which the analysis accepts a phase.
func (q Request) threshold() float64 { return identify.Threshold(q.References) }

// rangeFor returns the range of another tube that covers the same spacings, as far as a goniometer goes.
func (q Request) rangeFor(t Tube) (lo, hi float64) {
	from := q.Tubes[0].Radiation.KAlpha1
	lo, ok := xrd.ImageTwoTheta(q.Lo, from, t.Radiation.KAlpha1)
	if !ok {
		lo = q.Lo
	}
	hi, ok = xrd.ImageTwoTheta(q.Hi, from, t.Radiation.KAlpha1)
	if !ok || hi > highest {
		hi = highest
	}
	return math.Max(lo, lowest), hi
}

// The range of ordinary goniometers, degrees 2θ (common practice).
const (
	lowest  = 3.0
	highest = 140.0
)

// backgroundOf is the background of a tube with fluorescence, counts/s.
func (q Request) backgroundOf(t Tube) (total, glow float64, glowing []string) {
	ratio, glowing := FluorescenceRatio(t.Phases, q.WeightPercent, t.Radiation, q.Instrument)
	glow = ratio * q.Rate * q.acrossShare()
	if q.Discriminates || !(glow >= 0) {
		return q.Background, glow, glowing
	}
	return q.Background + glow, glow, glowing
}

// timeFor returns the time per step at which something that falls as 1/√t beside a floor, value² = floor² + (value₀² − floor²) t₀/t,
// is what is wanted; nil where no time does it.
func timeFor(value, floor, wanted, now float64) *float64 {
	random := value*value - floor*floor
	if !(wanted > floor) || !(random > 0) || !(wanted > 0) {
		return nil
	}
	t := now * random / (wanted*wanted - floor*floor)
	return &t
}

// number returns nil for what is not a number.
func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// multiplicity is how many planes of a line there are in a crystal.
func multiplicity(l refdata.Line) float64 {
	var m float64
	for _, f := range l.Families {
		m += float64(f.Multiplicity)
	}
	return math.Max(m, 2)
}

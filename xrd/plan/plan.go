package plan

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
)

// Run plans. It returns ErrRequest, or an error of package simulate, for what cannot be.
func Run(ctx context.Context, q Request) (result.Plan, error) {
	if err := q.check(); err != nil {
		return result.Plan{}, err
	}
	p := result.Plan{Schema: result.PlanSchema, Phases: []result.PlannedPhase{}, Warnings: []string{}}
	if q.Earlier != nil {
		earlier, err := q.learn()
		if err != nil {
			return p, err
		}
		p.Earlier = &earlier
	}
	tube := q.Tubes[0]
	background, _, _ := q.backgroundOf(tube)
	e, err := q.expect(ctx, q.job(tube, q.Lo, q.Hi, background, q.Time), repeats)
	if err != nil {
		return p, err
	}
	long, err := q.expect(ctx, q.job(tube, q.Lo, q.Hi, background, math.Min(q.Time*longer, 1e9/q.Rate)), 1)
	if err != nil {
		return p, err
	}
	p.Specimen, p.Scan, p.Footprint = q.specimen(), q.scan(e, background), q.footprint()
	for i := range tube.Phases {
		p.Phases = append(p.Phases, q.phase(i, e, long))
	}
	p.Absorption = q.absorption(p.Phases)
	if p.Tubes, err = q.tubes(ctx); err != nil {
		return p, err
	}
	p.Suggested = q.suggest(p, e)
	p.Drawn = q.drawn(e)
	p.Warnings = q.warnings(p)
	if p.Earlier != nil {
		p.Earlier.Wrong = q.wrong(p)
	}
	p.Checklist = q.checklist(p)
	return p, nil
}

// longer is how many times longer a scan is counted to learn what no time makes smaller.
const longer = 1e6

func (q Request) specimen() result.PlannedSpecimen {
	return result.PlannedSpecimen{LengthMM: result.Positive(q.length()), WidthMM: result.Positive(q.width()), Pieces: q.Pieces, WireMM: result.Positive(q.Wire),
		Section: q.Section, Mount: q.Mount, InterceptUM: number(positive(q.Intercept)), LayerUM: result.Positive(q.Layer)}
}

// positive returns NaN for 0.
func positive(v float64) float64 {
	if !(v > 0) {
		return math.NaN()
	}
	return v
}

func (q Request) scan(e expected, background float64) result.PlannedScan {
	from := "assumed"
	if q.Earlier != nil {
		from = cmp.Or(q.Earlier.Document.Scan.Sample, q.Earlier.Document.Scan.File, "earlier result")
	}
	r := q.Tubes[0].Radiation
	return result.PlannedScan{Radiation: r.Name, Wavelength: r.KAlpha1, RadiusMM: q.Instrument.Radius, Slit: q.Instrument.Slit.String(),
		TwoThetaMin: q.Lo, TwoThetaMax: q.Hi, Step: q.Step, TimeS: q.Time, TotalHours: q.Time * float64(len(e.scan.TwoTheta)) / 3600,
		Rate: q.Rate, Background: background, From: from, Threshold: q.threshold(), Wanted: result.Positive(q.WantedLimit), WantedHalf: result.Positive(q.WantedHalf)}
}

// meanMu is the linear absorption of the solid specimen, 1/cm, with the volume fractions of its phases.
func (q Request) meanMu(t Tube) (mu float64, volumes []float64) {
	var mass, volume float64
	volumes = make([]float64, len(t.Phases))
	for i, p := range t.Phases {
		mass += q.WeightPercent[i] * p.MassAbsorption
		volumes[i] = q.WeightPercent[i] / p.Density
		volume += volumes[i]
	}
	for i := range volumes {
		volumes[i] /= volume
	}
	return mass / volume, volumes
}

// phase says what the scan will show of one phase.
func (q Request) phase(i int, e, long expected) result.PlannedPhase {
	tube := q.Tubes[0]
	p := tube.Phases[i]
	limit, half, floor := e.limits[i], e.halves[i], long.halves[i]
	out := result.PlannedPhase{ID: p.ID, Name: p.Name, Formula: p.Formula, WeightPercent: q.WeightPercent[i], Lines: []result.PlannedLine{},
		Limit: number(limit), Shown: number(limit), Half: number(half), HalfFloor: number(floor)}
	if q.WantedLimit > 0 && limit > 0 {
		out.TimeForLimit = timeFor(limit, 0, q.WantedLimit, q.Time)
	}
	if q.WantedHalf > 0 && q.WeightPercent[i] > 0 {
		out.TimeForHalf = timeFor(half, floor, q.WantedHalf, q.Time)
	}
	mu, volumes := q.meanMu(tube)
	line := q.strongest(p)
	out.Strongest = line.TwoTheta
	out.DepthUM, out.InMixUM = depths(line.TwoTheta, p.MuLinear()), depths(line.TwoTheta, mu)
	if q.Layer > 0 {
		out.LayerShare = number(LayerShare(line.TwoTheta, p.MuLinear(), q.Layer))
	}
	out.Grains = q.grainsOf(p, line, volumes[i], mu)
	for _, l := range e.fit.Lines(i) {
		sigmas := l.Fitted / l.ObservedU
		planned := result.PlannedLine{TwoTheta: l.TwoTheta, D: l.Line.D, Expected: l.Fitted, Sigmas: sigmas, Clear: l.Clear, Free: l.Covered && l.Clear >= clear && sigmas >= 3}
		if len(l.Line.Families) > 0 {
			h := l.Line.Families[0]
			planned.HKL = fmt.Sprintf("%d %d %d", h.H, h.K, h.L)
		}
		if !l.Covered || math.IsNaN(sigmas) {
			continue
		}
		if planned.Free {
			out.Free++
		}
		out.Lines = append(out.Lines, planned)
	}
	slices.SortStableFunc(out.Lines, func(a, b result.PlannedLine) int { return cmp.Compare(b.Expected, a.Expected) })
	out.Lines = out.Lines[:min(mostLines, len(out.Lines))]
	for _, m := range q.table() {
		if m.Phase == p.ID && m.Hazard != "" {
			out.Hazard = m.Hazard
		}
	}
	q.grainReadings(i, &out)
	return out
}

const (
	clear     = 0.9 // share of a phase in what is under a line from which the line is its own, as in quantify
	mostLines = 12
)

// strongest returns the strongest line of a phase in the range, or the strongest of all.
func (q Request) strongest(p refdata.Phase) refdata.Line {
	var best refdata.Line
	inside := false
	for _, l := range p.Lines {
		in := l.TwoTheta >= q.Lo && l.TwoTheta <= q.Hi
		if in && !inside || in == inside && l.Intensity > best.Intensity {
			best, inside = l, in
		}
	}
	return best
}

// grainReadings says what the usual formula would read if grains were coarse, and with the intercept that was given.
func (q Request) grainReadings(i int, out *result.PlannedPhase) {
	read := func(intercept float64) *float64 {
		j := q.job(q.Tubes[0], q.Lo, q.Hi, 0, 1)
		j.Intercept = intercept
		factors, err := simulate.GrainFactors(j)
		if err != nil {
			return nil
		}
		var sum float64
		for k, w := range q.WeightPercent {
			sum += w * factors[k]
		}
		return number(100 * q.WeightPercent[i] * factors[i] / sum)
	}
	out.CoarseReads = read(math.Inf(1))
	if q.Intercept > 0 {
		out.GrainsReads = read(q.Intercept)
	}
}

// drawn is the expected scan as a document and curves, for figures.
func (q Request) drawn(e expected) result.Analysis {
	r := q.Tubes[0].Radiation
	a := result.Analysis{Document: result.Document{Schema: result.Schema, Scan: result.Scan{Sample: "expected scan", Simulated: "planned", Radiation: r.Name,
		Wavelength: r.KAlpha1, Points: len(e.scan.TwoTheta), TwoThetaMin: q.Lo, TwoThetaMax: q.Hi, Step: q.Step, NoiseModel: "poisson"}},
		Curves: result.Curves{TwoTheta: e.scan.TwoTheta, Observed: simulate.Count(e.scan.Expected, 1), Calculated: e.scan.Expected, Background: e.scan.Background, Phases: e.scan.Curves}}
	a.Curves.Sigma = make([]float64, len(e.scan.Expected))
	for i, y := range e.scan.Expected {
		a.Curves.Sigma[i] = math.Sqrt(math.Max(1, y))
	}
	for i, p := range q.Tubes[0].Phases {
		w := q.WeightPercent[i]
		ph := result.Phase{ID: p.ID, Name: p.Name, Formula: p.Formula, Origin: "specimen", WeightPercent: &w}
		ph.WeightPercentLo, ph.WeightPercentHi = number(math.Max(0, w-e.halves[i])), number(math.Min(100, w+e.halves[i]))
		for _, l := range e.fit.Lines(i) {
			observed, u := l.Fitted, l.ObservedU
			ph.Lines = append(ph.Lines, result.PhaseLine{D: l.Line.D, TwoTheta: l.TwoTheta, Expected: l.Expected, Observed: &observed, ObservedU: &u, Own: l.Clear >= clear})
		}
		a.Document.Phases = append(a.Document.Phases, ph)
	}
	return a
}

// tubes compares the tubes at the same count rate of corundum 113.
func (q Request) tubes(ctx context.Context) ([]result.PlannedTube, error) {
	out := []result.PlannedTube{}
	even := slices.Min(q.WeightPercent) >= 50 // a phase alone, or two alike: no phase is the minor one
	for _, t := range q.Tubes {
		lo, hi := q.rangeFor(t)
		background, glow, glowing := q.backgroundOf(t)
		row := result.PlannedTube{Radiation: t.Radiation.Name, TwoThetaMin: lo, TwoThetaMax: hi, Glowing: glowing, Fluorescence: glow, Limits: []*float64{}, TimesForBest: []*float64{}}
		e, err := q.expect(ctx, q.job(t, lo, hi, background, q.Time), 1)
		if err != nil {
			return nil, err
		}
		var logs, n float64
		for i, limit := range e.limits {
			row.Limits = append(row.Limits, number(limit))
			if q.WantedLimit > 0 {
				row.TimesForBest = append(row.TimesForBest, timeFor(limit, 0, q.WantedLimit, q.Time))
			}
			if (q.WeightPercent[i] < 50 || even) && limit > 0 {
				logs, n = logs+math.Log(limit), n+1
			}
		}
		row.Score = number(logs / n)
		out = append(out, row)
	}
	best := math.Inf(1)
	for _, t := range out {
		if t.Score != nil {
			best = math.Min(best, *t.Score)
		}
	}
	for i := range out {
		if out[i].Score != nil {
			out[i].Score = number(*out[i].Score - best)
		}
	}
	return out, nil
}

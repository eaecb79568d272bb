package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

const (
	countsWanted = 1e4 // net counts in the strongest peak (common practice: 5000 to 10 000 for a trend, more for minor phases)
	wideLines    = 1.3 // times the width of the instrument from which lines are worth a word
	matrixShare  = 50  // wt% from which nobody asks how little of a phase would be seen
	roomAtTop    = 0.5 // of the counts at which a detector saturates that a scan should stay below
)

// mended says, with the numbers of an earlier result, what would mend what a caution tells; ok is false where it has none to say.
type mended func(q Request, p result.Plan, c xrd.Caution) (change string, ok bool)

// mending is by the code of a caution. What is not in it keeps the remedy that the analysis gave.
var mending = map[string]mended{
	"step-too-coarse": Request.mendStep, "counts-too-low": Request.mendCounts, "beam-overspill": Request.mendSlit, "displaced": Request.mendHeight,
	"coarse-grain": Request.mendGrains, "saturation": Request.mendSaturation, "fluorescence": Request.mendTube, "range-too-short": Request.mendRange,
	"amorphous-halo": Request.mendHalo,
}

// eased are cautions that are notes to an analysis, which allows for them, and faults to who will scan again.
var eased = []string{"displaced", "counts-too-low", "fluorescence", "k-beta", "tungsten-line", "edge-step"}

// wrong says what went wrong with the earlier scan and what to change, the gravest first.
func (q Request) wrong(p result.Plan) []result.EarlierFault {
	out := []result.EarlierFault{}
	for _, c := range q.Earlier.Document.Cautions {
		if c.Severity == xrd.SeverityNote && !slices.Contains(eased, c.Code) || strings.Contains(c.Text, " from another caution: ") {
			continue
		}
		f := result.EarlierFault{Code: c.Code, Text: c.Text, Change: c.Remedy}
		if mend := mending[c.Code]; mend != nil {
			if change, ok := mend(q, p, c); ok {
				f.Change = change
			}
		}
		out = append(out, f)
	}
	told := func(code string) bool {
		return slices.ContainsFunc(out, func(f result.EarlierFault) bool { return f.Code == code })
	}
	if s := q.Earlier.Document.Scan.Step; s > 0 && p.Suggested.LeastFWHM/s < pointsLeast && !told("step-too-coarse") {
		change, _ := q.mendStep(p, xrd.Caution{})
		out = append(out, result.EarlierFault{Code: "step-too-coarse", Text: fmt.Sprintf("A step of %g° put %.1f points across the narrowest line (%.3f°).", s, p.Suggested.LeastFWHM/s, p.Suggested.LeastFWHM), Change: change})
	}
	out = append(out, q.limitsMissed()...)
	out = append(out, q.intervalsMissed(p)...)
	return append(out, q.widened(p)...)
}

// evidence returns a number of a caution's evidence.
func evidence(c xrd.Caution, key string) (float64, bool) {
	v, ok := c.Evidence[key].(float64)
	return v, ok && !math.IsNaN(v) && !math.IsInf(v, 0)
}

func (q Request) mendStep(p result.Plan, _ xrd.Caution) (string, bool) {
	s := p.Suggested
	text := fmt.Sprintf("Step %g° instead of %g°: %.0f points across the narrowest line.", s.Step, q.Earlier.Document.Scan.Step, s.LeastFWHM/s.Step)
	if t := q.Earlier.Document.Scan.CountingTimeS; t != nil && q.Earlier.Document.Scan.Step > s.Step {
		text += fmt.Sprintf(" Counting %s s instead of %g s at each takes as long and shows as much.", brief(*t*s.Step/q.Earlier.Document.Scan.Step), *t)
	}
	return text, s.LeastFWHM > 0 && q.Earlier.Document.Scan.Step > 0
}

func (q Request) mendCounts(_ result.Plan, c xrd.Caution) (string, bool) {
	net, ok := evidence(c, "net_counts")
	scan := q.Earlier.Document.Scan
	if !ok || !(net > 0) || scan.CountingTimeS == nil || net >= countsWanted {
		return "", false
	}
	t := *scan.CountingTimeS * countsWanted / net
	return fmt.Sprintf("Count %s s per step instead of %g s: %.0f net counts in the strongest peak, in %s h.", brief(t), *scan.CountingTimeS, countsWanted, brief(t*float64(scan.Points)/3600)), true
}

// mendSlit says which slit would have been on the specimen: R δ/sin θ = L, with the length that the angle of full illumination tells
// where it was not stated.
func (q Request) mendSlit(p result.Plan, c xrd.Caution) (string, bool) {
	full, ok := evidence(c, "full_above_two_theta")
	slit, err := xrd.ParseSlit(q.Earlier.Document.Scan.Slit)
	if !ok || !(full > 0 && full < 180) {
		return "", false
	}
	first := p.Footprint.FirstTwoTheta
	sine := func(degrees float64) float64 { return math.Sin(xrd.Radians(degrees / 2)) }
	if err != nil || slit.Mode != xrd.SlitFixed || !(slit.Value > 0) {
		return fmt.Sprintf("A slit %.2g times as wide would be on the specimen from the first strong line (%.1f°) on; or a piece %.2g times as long.", sine(first)/sine(full), first, sine(full)/sine(first)), first < full
	}
	for _, v := range slits {
		if s := sine(full) * v / slit.Value; v < slit.Value && s <= sine(first) {
			return fmt.Sprintf("A slit of %g° instead of %g° is on the specimen from %.1f° on, below the first strong line at %.1f°; it passes %.0f %% of the intensity. Or a piece %.2g times as long.",
				v, slit.Value, 2*xrd.Degrees(math.Asin(s)), first, 100*v/slit.Value, sine(full)/sine(first)), true
		}
	}
	return fmt.Sprintf("No slit that is sold keeps the beam on the specimen at %.1f°: take a piece %.2g times as long, or leave lines below %.1f° out.", first, sine(full)/sine(first), full), first < full
}

func (q Request) mendHeight(_ result.Plan, c xrd.Caution) (string, bool) {
	mm, ok := evidence(c, "displacement_mm")
	if !ok || !(q.Instrument.Radius > 0) || mm == 0 {
		return "", false
	}
	move := "Raise"
	if mm < 0 {
		move = "Lower"
	}
	return fmt.Sprintf("%s the surface by %.2f mm: a line at 40° was shifted by %+.3f°.", move, math.Abs(mm), xrd.DisplacementShift(40, mm, q.Instrument.Radius)), true
}

func (q Request) mendGrains(_ result.Plan, c xrd.Caution) (string, bool) {
	scatter, ok := evidence(c, "relative_scatter")
	if !ok || !(scatter > good) {
		return "", false
	}
	spun := scatter / math.Sqrt(spin)
	text := fmt.Sprintf("If it did not spin: spinning brings the scatter from %.0f %% to about %.0f %%", 100*scatter, 100*spun)
	if n := math.Ceil(spun * spun / (good * good)); n > 1 {
		text += fmt.Sprintf(", %.0f spots with it to %.0f %%", math.Min(n, most), 100*good)
	}
	return text + ". Texture of another kind stays: then scan a second section (--same-specimen) or a powder.", true
}

// mendSaturation compares the counts at which the detector gave up with what the plan expects at its strongest point.
func (q Request) mendSaturation(p result.Plan, c xrd.Caution) (string, bool) {
	level, ok := evidence(c, "level")
	t := q.Earlier.Document.Scan.CountingTimeS
	if !ok || t == nil || len(p.Drawn.Curves.Calculated) == 0 || !(level > 0) {
		return "", false
	}
	rate, limit := slices.Max(p.Drawn.Curves.Calculated)/q.Time, level / *t
	if rate <= roomAtTop*limit {
		return fmt.Sprintf("The detector gave up at %s counts/s; this plan expects %s at its strongest point, which is well below.", brief(limit), brief(rate)), true
	}
	return fmt.Sprintf("The detector gave up at %s counts/s: this plan expects %s at its strongest point. Attenuate the beam %.0f times, and count as much longer.", brief(limit), brief(rate), math.Ceil(rate/(roomAtTop*limit))), true
}

func (q Request) mendTube(p result.Plan, c xrd.Caution) (string, bool) {
	if p.Suggested.Radiation == "" || p.Suggested.Radiation == p.Scan.Radiation || len(p.Tubes) < 2 {
		return "", false
	}
	return fmt.Sprintf("%s radiation shows smaller amounts of the minor phases than %s does at the same count rate; else: %s", p.Suggested.Radiation, p.Scan.Radiation, c.Remedy), true
}

func (q Request) mendRange(p result.Plan, _ xrd.Caution) (string, bool) {
	s := p.Suggested
	return fmt.Sprintf("Scan from %g° to %g°.", s.TwoThetaMin, s.TwoThetaMax), s.TwoThetaMax > s.TwoThetaMin
}

func (q Request) mendHalo(_ result.Plan, c xrd.Caution) (string, bool) {
	s := q.Earlier.Document.Scan
	if q.Mount != "" || s.CountingTimeS == nil {
		return "", false
	}
	return fmt.Sprintf("Scan a blank of the same mount and holder, %g° to %g°, at least %g s per step, and give it with --blank. %s", s.TwoThetaMin, s.TwoThetaMax, *s.CountingTimeS, c.Remedy), true
}

// limitsMissed says which limits were above the wanted one, with the time that would do: a limit falls as the root of the time.
func (q Request) limitsMissed() []result.EarlierFault {
	doc := q.Earlier.Document
	var out []result.EarlierFault
	say := func(name, how string, limit *float64) {
		if !(q.WantedLimit > 0) || limit == nil || !(*limit > q.WantedLimit) || doc.Scan.CountingTimeS == nil {
			return
		}
		t := *doc.Scan.CountingTimeS * math.Pow(*limit/q.WantedLimit, 2)
		out = append(out, result.EarlierFault{Code: "limit-above-request", Text: fmt.Sprintf("%s %s up to %.2g wt%%, %.2g are wanted.", name, how, *limit, q.WantedLimit),
			Change: fmt.Sprintf("Count %s s per step instead of %g s, %s h in all; or as much longer over its strong lines alone.", brief(t), *doc.Scan.CountingTimeS, brief(t*float64(doc.Scan.Points)/3600))})
	}
	for _, d := range doc.Phases {
		if w := d.WeightPercent; w == nil || *w < matrixShare || len(doc.Phases) < 2 {
			say(d.Name, "could hide", d.DetectionLimit)
		}
	}
	for _, d := range doc.NotDetected {
		if d.Asked {
			say(d.Name, "was not seen and could be there", d.DetectionLimit)
		}
	}
	return out
}

// intervalsMissed says which intervals were wider than wanted, and whether counting longer mends that.
func (q Request) intervalsMissed(p result.Plan) []result.EarlierFault {
	doc := q.Earlier.Document
	var out []result.EarlierFault
	for _, d := range doc.Phases {
		if !(q.WantedHalf > 0) || d.WeightPercentLo == nil || d.WeightPercentHi == nil {
			continue
		}
		half := (*d.WeightPercentHi - *d.WeightPercentLo) / 2
		k := slices.IndexFunc(p.Phases, func(x result.PlannedPhase) bool { return strings.EqualFold(x.ID, d.ID) })
		if !(half > q.WantedHalf) || k < 0 {
			continue
		}
		change := "No counting time brings that: state grain sizes or the mean intercept, add a weighed standard, or calibrate with weighed mixtures (factors)."
		if t := p.Phases[k].TimeForHalf; t != nil {
			change = fmt.Sprintf("Count %s s per step.", brief(*t))
		}
		out = append(out, result.EarlierFault{Code: "interval-above-request", Text: fmt.Sprintf("%s was known to ± %.2g wt%%, ± %.2g are wanted.", d.Name, half, q.WantedHalf), Change: change})
	}
	return out
}

// widened says that lines were wider than the instrument makes them.
func (q Request) widened(p result.Plan) []result.EarlierFault {
	if p.Earlier == nil || p.Earlier.WidthRatio == nil || !q.Instrument.Calibrated || !(*p.Earlier.WidthRatio > wideLines) {
		return nil
	}
	return []result.EarlierFault{{Code: "lines-wide", Text: fmt.Sprintf("Lines were %.1f times as wide as the instrument makes them; the plan counts on that.", *p.Earlier.WidthRatio),
		Change: "A narrower receiving slit or Soller slit helps where the instrument does it (calibrate with a standard); a polish that takes the deformed layer away where the surface does."}}
}

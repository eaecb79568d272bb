package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

const (
	pointsWanted = 6.0 // across the narrowest line (McCusker et al. 1999, J. Appl. Cryst. 32, 36: 5 to 10)
	pointsLeast  = 5.0 // fewer cost precision (the same)
	freeWanted   = 3   // own lines that a firm answer needs
	spanMatters  = 2.0 // wt% between fine and coarse grains (accuracy that powders reach: ±1 to 3, Int. Tables H 3.9, read)
	below        = 3.0 // degrees below the first line at which a scan should begin (common practice)
)

// absorption sums up what grains do to the fractions.
func (q Request) absorption(phases []result.PlannedPhase) result.PlannedAbsorption {
	var a result.PlannedAbsorption
	var span float64
	worst := -1
	for i, p := range phases {
		if p.CoarseReads != nil && math.Abs(*p.CoarseReads-p.WeightPercent) >= span {
			span, worst = math.Abs(*p.CoarseReads-p.WeightPercent), i
		}
	}
	if worst < 0 {
		return a
	}
	a.SpanWeightPercent = &span
	p := phases[worst]
	switch {
	case len(phases) < 2 || span < spanMatters:
		a.Advice = "Grains of any size read the same within counting: absorption needs no measurement."
	case q.Intercept > 0 && p.GrainsReads != nil:
		a.Advice = fmt.Sprintf("With a mean intercept of %.3g µm, %g wt%% %s would read %.1f wt%%; a measured intercept takes most of the span of %.1f wt%% away.", q.Intercept, p.WeightPercent, p.Name, *p.GrainsReads, span)
	default:
		a.Advice = fmt.Sprintf("%g wt%% %s reads up to %.1f wt%% lower or higher when grains are coarse: measure the mean intercept of a section (count boundaries along 10 lines), or its area fraction to ±%.1f vol%%.", p.WeightPercent, p.Name, span, math.Max(0.5, span/5))
	}
	return a
}

// steps that drives offer, degrees 2θ.
var steps = []float64{0.05, 0.04, 0.03, 0.025, 0.02, 0.015, 0.01, 0.0075, 0.005}

// slits that are sold, degrees.
var slits = []float64{1, 0.5, 0.25, 0.125}

// suggest returns a scan that answers the question.
func (q Request) suggest(p result.Plan, e expected) result.Suggested {
	s := result.Suggested{LeastFWHM: math.Inf(1), Step: steps[len(steps)-1], Slit: q.Instrument.Slit.String()}
	for i := range q.Tubes[0].Phases {
		for _, l := range e.fit.Lines(i) {
			if l.Covered {
				s.LeastFWHM = math.Min(s.LeastFWHM, l.FWHM)
			}
		}
	}
	if math.IsInf(s.LeastFWHM, 1) {
		s.LeastFWHM = q.Instrument.FWHM(40)
	}
	s.PointsPerFWHM = s.LeastFWHM / q.Step
	for _, v := range steps {
		if v*pointsWanted <= s.LeastFWHM*(1+1e-9) {
			s.Step = v
			break
		}
	}
	s.TwoThetaMin = math.Max(lowest, math.Floor(p.Footprint.FirstTwoTheta-below))
	s.TwoThetaMax = q.upTo()
	if l := q.length(); l > 0 {
		for _, v := range slits {
			ins := q.Instrument
			ins.Slit = xrd.Slit{Mode: xrd.SlitFixed, Value: v}
			s.Slit = ins.Slit.String()
			if at, ok := angleOfLength(l, ins); ok && at <= p.Footprint.FirstTwoTheta {
				break
			}
		}
	}
	for _, ph := range p.Phases {
		limit := ph.TimeForLimit
		if ph.WeightPercent >= 50 && len(p.Phases) > 1 {
			limit = nil // nobody asks how little of the matrix would be seen
		}
		for _, t := range []*float64{limit, ph.TimeForHalf} {
			if t != nil && (s.TimeS == nil || *t > *s.TimeS) {
				s.TimeS = t
			}
		}
	}
	if s.TimeS != nil {
		t := *s.TimeS * s.Step / q.Step // counts in a line go with time over step
		h := t * (s.TwoThetaMax - s.TwoThetaMin) / s.Step / 3600
		s.TimeS, s.TotalHours = &t, &h
	}
	s.Radiation = q.Tubes[0].Radiation.Name
	for _, t := range p.Tubes {
		if t.Score != nil && *t.Score == 0 {
			s.Radiation = t.Radiation
		}
	}
	return s
}

// upTo returns the angle up to which each phase shows five strong lines, at least that of a usual scan of metals.
func (q Request) upTo() float64 {
	usual, ok := xrd.ImageTwoTheta(100, 1.5406, q.Tubes[0].Radiation.KAlpha1)
	if !ok || usual > highest {
		usual = highest
	}
	to := usual
	for _, p := range q.Tubes[0].Phases {
		n := 0
		for _, l := range p.Lines {
			if l.Intensity >= 5 && l.TwoTheta <= highest {
				if n++; n == 5 {
					to = math.Max(to, l.TwoTheta+2)
				}
			}
		}
	}
	return math.Min(highest, math.Ceil(to))
}

// warnings says what would spoil the scan.
func (q Request) warnings(p result.Plan) []string {
	out := []string{}
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	f := p.Footprint
	switch {
	case q.length() > 0 && q.Instrument.Slit.Value == 0:
		say("The slit is not stated: whether the beam is longer than the specimen is not known.")
	case q.length() > 0 && f.FullAbove == nil:
		say("The beam is longer than the specimen at every angle.")
	case f.FullAbove != nil && *f.FullAbove > f.FirstTwoTheta:
		say("Below %.1f° the beam is longer than the specimen: the first strong line, at %.1f°, keeps %.0f %% of its intensity and the mount is lit.", *f.FullAbove, f.FirstTwoTheta,
			100*xrd.FootprintFactor(f.FirstTwoTheta, q.Instrument.Slit, q.Instrument.Radius, q.length()))
	}
	if q.Mount != "" && !f.MountRecognised {
		say("The mount %q is not in the table of preparation materials: scan a blank of it, or add it with a table of your own.", q.Mount)
	}
	if p.Suggested.PointsPerFWHM < pointsLeast {
		say("A step of %g° puts %.1f points across the narrowest line (%.3f°); %g° would put %.0f.", q.Step, p.Suggested.PointsPerFWHM, p.Suggested.LeastFWHM, p.Suggested.Step, p.Suggested.LeastFWHM/p.Suggested.Step)
	}
	for _, ph := range p.Phases {
		q.warnOfPhase(ph, say)
	}
	if s := p.Suggested; s.Radiation != p.Scan.Radiation && len(p.Tubes) > 1 {
		say("%s radiation would show less of the minor phases than %s at the same count rate.", p.Scan.Radiation, s.Radiation)
	}
	for _, t := range p.Tubes[:1] {
		if len(t.Glowing) > 0 && t.Fluorescence > 0.1*q.Background {
			say("%s Kα makes %s fluoresce: about %.0f counts/s of background without energy discrimination.", t.Radiation, strings.Join(t.Glowing, ", "), t.Fluorescence)
		}
	}
	return out
}

func (q Request) warnOfPhase(ph result.PlannedPhase, say func(string, ...any)) {
	switch {
	case ph.Limit == nil:
		say("%s has no line in this range.", ph.Name)
	case ph.WeightPercent > 0 && *ph.Limit > ph.WeightPercent:
		say("%s at %g wt%% lies below the detection limit of this scan, %.2g wt%%.", ph.Name, ph.WeightPercent, *ph.Limit)
	}
	if ph.WeightPercent > 0 && ph.Free < freeWanted {
		say("%s shows %d line(s) free of overlap at this count; a firm answer needs %d.", ph.Name, ph.Free, freeWanted)
	}
	if ph.Grains != nil && ph.Grains.Scatter > 0.1 {
		say("Few grains of %s diffract (about %s): its lines scatter by %.0f %%, spinning %.0f %%; %d spots, spinning, bring 5 %%.", ph.Name, brief(ph.Grains.Diffracting),
			100*ph.Grains.Scatter, 100*ph.Grains.Spinning, ph.Grains.Spots)
	}
	if ph.LayerShare != nil && *ph.LayerShare < 0.05 {
		say("A layer of %g µm of %s gives %.1f %% of a thick specimen's signal.", q.Layer, ph.Name, 100**ph.LayerShare)
	}
}

// checklist is what to do at the bench, in order.
func (q Request) checklist(p result.Plan) []string {
	out := []string{"Mount flush: the surface within 0.05 mm of the reference plane, level."}
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if q.Instrument.Radius > 0 {
		say("0.1 mm below it shifts a line at 40° by %.3f°.", xrd.DisplacementShift(40, 0.1, q.Instrument.Radius))
	}
	say("Scan a blank of the same mount and holder, same slits, range and step.")
	say("Scan a standard in the same session (calibrate), and for absolute amounts a pure corundum (--k-standard).")
	if p.Suggested.TimeS != nil {
		say("Set %g° to %g°, step %g°, %s s per step (%s h), slit %s.", p.Suggested.TwoThetaMin, p.Suggested.TwoThetaMax, p.Suggested.Step, brief(*p.Suggested.TimeS), brief(*p.Suggested.TotalHours), orNone(p.Suggested.Slit))
	} else {
		say("Set %g° to %g°, step %g°, slit %s.", p.Suggested.TwoThetaMin, p.Suggested.TwoThetaMax, p.Suggested.Step, orNone(p.Suggested.Slit))
	}
	say("Spin the specimen; write down slits, filter, tube, detector and time.")
	for _, kind := range []string{"abrasive", "polish", "etch"} {
		if list := q.residues(kind); len(list) > 0 {
			say("%s may leave lines: %s.", map[string]string{"abrasive": "Grit", "polish": "Polish", "etch": "Etch or storage"}[kind], strings.Join(list, "; "))
		}
	}
	seen := map[string]bool{}
	for _, m := range q.table() {
		relevant := slices.ContainsFunc(q.Tubes[0].Phases, func(ph refdata.Phase) bool { return ph.ID == m.Phase }) ||
			slices.ContainsFunc(refdata.MountOf(q.table(), q.Mount), func(o refdata.Preparation) bool { return o.Material == m.Material })
		if relevant && m.Hazard != "" && !seen[m.Hazard] {
			seen[m.Hazard] = true
			say("Hazard, %s: %s", m.Material, m.Hazard)
		}
	}
	for _, h := range q.hazards() {
		say("Hazard: %s", h)
	}
	say("X-ray sets are operated only by trained people under the local radiation rules; grinding, polishing and etching under local safety rules.")
	return out
}

// brief writes two digits without an exponent.
func brief(v float64) string {
	if v >= 10 {
		return strconv.FormatFloat(math.Round(v), 'f', 0, 64)
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

func orNone(s string) string {
	if s == "" {
		return "not given: write it down"
	}
	return s
}

// residues names materials of a kind with the angles of their first lines that lie within 0.4° of no strong line of the specimen.
func (q Request) residues(kind string) []string {
	var out []string
	elements := elementShares(q.Tubes[0].Phases, q.WeightPercent)
	records := map[string]refdata.Record{}
	for _, r := range refdata.Starter() {
		records[r.ID] = r
	}
	for _, m := range q.table() {
		record, known := records[m.Phase]
		if m.Kind != kind || kind == "etch" && !known || kind == "etch" && !sharesMetal(record, elements) {
			continue
		}
		ds := m.Lines
		for _, s := range record.Strong[:min(3, len(record.Strong))] {
			if len(m.Lines) == 0 {
				ds = append(ds, float64(s.D))
			}
		}
		var at []string
		for _, d := range ds {
			if x, ok := xrd.TwoTheta(d, q.Tubes[0].Radiation.KAlpha1); ok && x >= q.Lo && x <= q.Hi {
				at = append(at, fmt.Sprintf("%.1f°", x))
			}
		}
		if len(at) > 0 && len(out) < 6 {
			out = append(out, m.Material+" "+strings.Join(at, " "))
		}
	}
	return out
}

// sharesMetal reports whether a compound has an element of the specimen beside those of air, water and acids.
func sharesMetal(r refdata.Record, elements map[string]float64) bool {
	f, err := refdata.ParseFormula(r.Formula)
	if err != nil {
		return false
	}
	return slices.ContainsFunc(f.Composition(), func(e refdata.ElementShare) bool {
		return elements[e.Symbol] > 0 && !slices.Contains([]string{"O", "H", "C", "N", "Cl", "S"}, e.Symbol)
	})
}

// hazardous elements and what they ask for at the bench (common practice; local rules hold).
var hazardous = []struct{ symbol, text string }{
	{"Be", "beryllium: never grind outside a glove box"}, {"Pb", "lead dust: grind wet, gloves"}, {"Cd", "cadmium dust: grind wet, gloves, fume hood"},
	{"Ni", "nickel dust: grind wet, gloves"}, {"Co", "cobalt dust: grind wet, gloves"}, {"As", "arsenic: gloves, fume hood, collect the waste"},
	{"Tl", "thallium: gloves, fume hood, collect the waste"}, {"U", "uranium: radioactive, local rules"}, {"Th", "thorium: radioactive, local rules"},
	{"Mg", "magnesium swarf burns: no water on a fire"}, {"Ba", "soluble barium salts are poisonous: gloves"},
}

func (q Request) hazards() []string {
	var out []string
	elements := elementShares(q.Tubes[0].Phases, q.WeightPercent)
	for _, h := range hazardous {
		if elements[h.symbol] > 0 {
			out = append(out, h.text+".")
		}
	}
	if slices.ContainsFunc(q.Tubes[0].Phases, func(p refdata.Phase) bool { return p.ID == "quartz" || p.ID == "cristobalite" }) {
		out = append(out, "crystalline silica dust: grind wet; a result is no exposure assessment.")
	}
	return out
}

package analysis

import (
	"context"
	"fmt"
	"math"

	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// An External is an external standard, which makes fractions absolute: its constant, or a scan of a pure phase from which
// it is computed. Both scans must be of the same session: slits, voltage, current.
type External struct {
	K, U float64 // counts × degrees × cm²/g with standard uncertainty; K 0: from the scan

	Scan           xrd.Scan // of the standard alone, under the same conditions
	File           string   // its name, for the record
	ID             string   // of the phase
	Crystallinity  float64  // 0 means 1
	CrystallinityU float64  // its standard uncertainty
}

// measureStandard returns the constant of the external standard with the attenuation that goes with it, or why there is
// none; neither for a job without one.
func measureStandard(ctx context.Context, p prepared, e explanation) (k *quantify.External, without diagnose.Missing, err error) {
	given := p.job.External
	if given == nil || p.job.Spike != nil || p.job.Steps != Everything || e.identified.Fit == nil || len(e.identified.Matches) == 0 {
		return nil, without, nil
	}
	constant := quantify.External{K: given.K, U: given.U}
	if !(given.K > 0) {
		if constant, without, err = p.job.constantOf(ctx, *given, e.decided.Slit); err != nil || without != (diagnose.Missing{}) {
			return nil, without, err
		}
	}
	if without.Why = p.attenuate(e.identified.Fit, &constant); without.Why != "" {
		return nil, without, nil
	}
	return &constant, without, nil
}

// leastPure is the share of the peak area of a standard's scan that its phase must account for. The constant is wrong by about what it
// does not, and computed intensity ratios leave 5 % anyway (see the limits in the README).
const leastPure = 0.95

// constantOf analyses the scan of the standard as that of the specimen is analysed, with the slit of that. A scan that shows
// more than the standard gives no constant.
func (j Job) constantOf(ctx context.Context, e External, slit *diagnose.Slit) (k quantify.External, without diagnose.Missing, err error) {
	own := j.Scan.About.CountingTime
	j.Scan, j.File, j.Phases = e.Scan, e.File, []string{e.ID}
	j.External, j.Grains, j.Composition, j.Watch, j.Anchor, j.Filter.Require, j.Micrograph = nil, nil, nil, nil, "", nil, Micrograph{}
	g := given{stands: true}
	if slit != nil && slit.Automatic {
		g.slit = slit // both scans were taken with one slit
	}
	m, err := measure(ctx, j, g)
	if err != nil {
		return k, without, fmt.Errorf("%s: %w", e.File, err)
	}
	if len(m.Roles) == 0 || m.Roles[0] == quantify.Absent {
		return k, without, fmt.Errorf("%s: %w: the scan does not show %s", e.File, quantify.ErrStandard, e.ID)
	}
	if cover := identify.Judge(m.identified.Fit, m.found.Peaks); !(cover.Share >= leastPure) {
		return k, diagnose.Missing{Why: fmt.Sprintf("%s accounts for %.0f %% of the peak area of %s, which is no scan of a pure phase", e.ID, 100*cover.Share, e.File),
			Remedy: "Scan the pure standard in the same session, and check that --k-standard names its phase and its file."}, nil
	}
	c := e.Crystallinity
	if c == 0 {
		c = 1
	}
	k, err = quantify.Constant(quantify.Input{Fit: m.identified.Fit, Roles: m.Roles}, 0, c, e.CrystallinityU)
	if err != nil {
		return k, without, fmt.Errorf("%s: %w", e.File, err)
	}
	if t := e.Scan.About.CountingTime; t > 0 && own > 0 {
		k.K, k.U = k.K*own/t, k.U*own/t
	}
	return k, without, nil
}

// Sums of a measured chemistry, wt%, between which it counts as complete.
const leastSum, mostSum = 95.0, 105.0

// attenuate adds the mass attenuation of the specimen to a constant, and says why when it cannot.
func (p prepared) attenuate(fit *pattern.Fit, k *quantify.External) (why string) {
	if len(p.job.Composition) == 0 {
		if _, _, _, halo := diagnose.Hump(fit); halo {
			return "part of the specimen does not diffract, so that its absorption does not follow from its phases"
		}
		return ""
	}
	var sum, mu, variance float64
	for _, c := range p.job.Composition {
		e, ok := element.Lookup(c.Symbol)
		if !ok {
			return "no absorption is known for " + c.Symbol
		}
		m, _ := element.MassAttenuation(e.Z, p.job.Radiation.KAlpha1)
		sum += c.WeightPercent
		mu += c.WeightPercent * m
		u := c.GivenU() * m
		variance += u * u
	}
	if !(sum >= leastSum && sum <= mostSum) {
		return fmt.Sprintf("--composition adds up to %.1f wt%% and not to 100", sum)
	}
	k.Attenuation, k.AttenuationU = mu/sum, math.Sqrt(variance)/sum
	return ""
}

// absolute describes what a standard made absolute; nil when none did.
func (m measured) absolute() *result.Absolute {
	a := m.Answer.Amorphous
	if a == nil {
		return nil
	}
	out := &result.Absolute{AmorphousWeightPercent: result.Number(a.Percent), AmorphousLo: result.Number(a.Lo), AmorphousHi: result.Number(a.Hi)}
	if s := m.job.Spike; s != nil {
		out.Method, out.Standard, out.StandardWeightPercent = "internal standard", s.ID, result.Number(s.WeightPercent)
		return out
	}
	out.Method, out.Standard = "external standard", m.job.External.ID
	out.KFactor, out.KFactorU = result.Number(m.Constant.K), result.Number(m.Constant.U)
	out.MassAttenuation, out.MassAttenuationU = result.Number(m.Answer.Attenuation), result.Number(m.Answer.AttenuationU)
	out.AttenuationFrom = "phases"
	if m.Constant.Attenuation > 0 {
		out.AttenuationFrom = "composition"
	}
	return out
}

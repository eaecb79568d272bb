package analysis

import (
	"context"
	"fmt"
	"math"
	"phasetally/xrd/result"
	"strings"

	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// An External is an external standard, which makes fractions absolute: its constant, or a scan of a pure phase from which
// it is computed. Both scans must be of the same session: slits, voltage, current.
type External struct {
	K, U float64 // counts × degrees × cm²/g with standard uncertainty; K 0: from the scan

	Scan           xrd.Scan
	File           string
	ID             string  // of the phase
	Crystallinity  float64 // 0 means 1
	CrystallinityU float64
}

// measureStandard gets the constant of the external standard and the attenuation that goes with it.
func (r *run) measureStandard(ctx context.Context) error {
	e := r.job.External
	if e == nil || r.job.Spike != nil || r.job.Depth != Everything || r.outcome.Fit == nil || len(r.outcome.Members) == 0 {
		return nil
	}
	k := quantify.External{K: e.K, U: e.U}
	if !(e.K > 0) {
		var err error
		if k, err = r.constantOf(ctx, *e); err != nil {
			return err
		}
	}
	if r.without = r.attenuate(&k); r.without == "" {
		r.constant = &k
	}
	return nil
}

// constantOf analyses the scan of the standard as that of the specimen is analysed.
func (r *run) constantOf(ctx context.Context, e External) (quantify.External, error) {
	j := r.job
	j.Scan, j.File, j.Phases = e.Scan, e.File, []string{e.ID}
	j.External, j.Grains, j.Composition, j.Watch, j.Anchor, j.Filter.Require = nil, nil, nil, nil, "", nil
	s := &run{job: j, slitStands: true}
	if r.optics != nil && r.optics.automatic {
		s.optics = r.optics // both scans were taken with one slit
	}
	if _, err := s.all(ctx); err != nil {
		return quantify.External{}, fmt.Errorf("%s: %w", e.File, err)
	}
	if len(s.roles) == 0 || s.roles[0] == quantify.Absent {
		return quantify.External{}, fmt.Errorf("%s: %w: the scan does not show %s", e.File, quantify.ErrStandard, e.ID)
	}
	c := e.Crystallinity
	if c == 0 {
		c = 1
	}
	k, err := quantify.Constant(quantify.Input{Fit: s.outcome.Fit, Roles: s.roles}, 0, c, e.CrystallinityU)
	if err != nil {
		return k, fmt.Errorf("%s: %w", e.File, err)
	}
	if t, own := e.Scan.About.CountingTime, r.job.Scan.About.CountingTime; t > 0 && own > 0 {
		k.K, k.U = k.K*own/t, k.U*own/t
	}
	return k, nil
}

// Sums of a measured chemistry, wt%, between which it counts as complete.
const leastSum, mostSum = 95.0, 105.0

// attenuate adds the mass attenuation of the specimen to a constant, and says why when it cannot.
func (r *run) attenuate(k *quantify.External) (why string) {
	if len(r.job.Composition) == 0 {
		if _, _, _, halo := r.hump(); halo {
			return "part of the specimen does not diffract, so that its absorption does not follow from its phases"
		}
		return ""
	}
	var sum, mu, variance float64
	for _, c := range r.job.Composition {
		e, ok := element.Lookup(c.Symbol)
		if !ok {
			return "no absorption is known for " + c.Symbol
		}
		m, _ := element.MassAttenuation(e.Z, r.job.Radiation.KAlpha1)
		sum += c.WeightPercent
		mu += c.WeightPercent * m
		u := c.givenU() * m
		variance += u * u
	}
	if !(sum >= leastSum && sum <= mostSum) {
		return fmt.Sprintf("--composition adds up to %.1f wt%% and not to 100", sum)
	}
	k.Attenuation, k.AttenuationU = mu/sum, math.Sqrt(variance)/sum
	return ""
}

// absolute describes what a standard made absolute; nil when none did.
func (r *run) absolute() *result.Absolute {
	a := r.answer.Amorphous
	if a == nil {
		return nil
	}
	out := &result.Absolute{AmorphousWeightPercent: number(a.Percent), AmorphousLo: number(a.Lo), AmorphousHi: number(a.Hi)}
	if s := r.job.Spike; s != nil {
		out.Method, out.Standard, out.StandardWeightPercent = "internal standard", s.ID, number(s.WeightPercent)
		return out
	}
	out.Method, out.Standard = "external standard", r.job.External.ID
	out.KFactor, out.KFactorU = number(r.constant.K), number(r.constant.U)
	out.MassAttenuation, out.MassAttenuationU = number(r.answer.Attenuation), number(r.answer.AttenuationU)
	out.AttenuationFrom = "phases"
	if r.constant.Attenuation > 0 {
		out.AttenuationFrom = "composition"
	}
	return out
}

// externalCautions says on what an external standard rests, or why it gave nothing.
func (r *run) externalCautions() []xrd.Caution {
	if r.job.External == nil || r.job.Spike != nil {
		return nil
	}
	if r.answer.Amorphous == nil {
		why := r.without
		if why == "" {
			why = "the absorption of a phase or a reference intensity ratio is not known"
		}
		return []xrd.Caution{{Code: "external-standard", Severity: xrd.Refuse, Text: "The external standard gives no absolute fractions: " + why + ".",
			Remedy: "State the chemistry of everything that was scanned, oxygen too, with --composition.", Evidence: map[string]any{}}}
	}
	return []xrd.Caution{{Code: "external-standard", Severity: xrd.Note,
		Text: fmt.Sprintf("Absolute fractions rest on K = %.0f ± %.0f counts·°·cm²/g and a mass attenuation of %.1f ± %.1f cm²/g (standard uncertainties).%s",
			r.constant.K, r.constant.U, r.answer.Attenuation, r.answer.AttenuationU, r.sameTime()),
		Remedy:   "Scan standard and specimen in one session with the same slits, voltage and current; both thicker than the beam reaches and longer than the beam at every angle.",
		Evidence: map[string]any{"k_factor": r.constant.K, "k_factor_u": r.constant.U, "mass_attenuation": r.answer.Attenuation}}}
}

// sameTime says that counting times were taken to be equal, when they are not known.
func (r *run) sameTime() string {
	e := r.job.External
	if e.K > 0 || e.Scan.About.CountingTime > 0 && r.job.Scan.About.CountingTime > 0 {
		return ""
	}
	return " The counting time was taken to be that of the standard."
}

// standardMissing reports a spike that the scan does not show.
func (r *run) standardMissing() []xrd.Caution {
	s := r.job.Spike
	if s == nil || r.answer.Amorphous != nil || len(r.answer.Withheld) > 0 {
		return nil
	}
	return []xrd.Caution{{Code: "standard-missing", Severity: xrd.Refuse,
		Text:     fmt.Sprintf("The standard %s was not found in the scan: no absolute fractions and no amorphous part can be given.", s.ID),
		Remedy:   "Check that the spiked powder was scanned, that --spike names what was added, and that its strong lines lie in the range.",
		Evidence: map[string]any{"id": s.ID, "weight_percent": s.WeightPercent}}}
}

// spiked reports whether a member is the standard that was added.
func (r *run) spiked(id string) bool {
	return r.job.Spike != nil && strings.EqualFold(id, r.job.Spike.ID)
}

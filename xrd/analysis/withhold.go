package analysis

import (
	"fmt"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// leastStandard is the amount, wt%, below which a standard in a powder cannot be seen by a laboratory diffractometer (common
// practice: detection limits are some tenths of a per cent).
const leastStandard = 0.1

// withhold takes out of the amounts what the scan says cannot be: all fractions of a scan that is not explained, that contradicts its tube or
// whose intensities are no counts, and absolute ones that contradict the standard.
func (m measured) withhold() amounts {
	a := m.amounts
	if m.cover.Verdict == result.None || m.decided.Tube != nil || slices.ContainsFunc(m.found.Cautions, func(c xrd.Caution) bool { return c.Code == peaks.Transformed }) {
		return a.withoutFractions()
	}
	a.Impossible, a.NoHump = impossible(a.Amounts, m.job.Spike), diagnose.NoHump(m.evidence(result.Document{}, nil))
	if a.Impossible != "" || a.NoHump != nil {
		a.Answer.Amorphous = nil
		a.Answer.Fractions = append([]quantify.Fraction{}, a.Answer.Fractions...)
		for i := range a.Answer.Fractions {
			a.Answer.Fractions[i].Original = unknown
		}
	}
	return a
}

var unknown = quantify.Value{Percent: math.NaN(), Lo: math.NaN(), Hi: math.NaN()}

// withoutFractions keeps roles and order.
func (a amounts) withoutFractions() amounts {
	n := len(a.Roles)
	a.Answer = quantify.Answer{Fractions: make([]quantify.Fraction, n), Covariance: make([][]float64, n), VolumeCovariance: make([][]float64, n)}
	for i := range n {
		a.Answer.Fractions[i] = quantify.Fraction{Weight: unknown, Volume: unknown, Original: unknown, Fine: unknown, Coarse: unknown,
			Limit: math.NaN(), Depth: math.NaN(), MuRatio: math.NaN()}
		a.Answer.Covariance[i], a.Answer.VolumeCovariance[i] = make([]float64, n), make([]float64, n)
		a.Answer.Withheld = append(a.Answer.Withheld, i)
	}
	a.Checks, a.same, a.Areas, a.Image, a.Without = nil, nil, nil, nil, diagnose.Missing{Why: "the scan is not explained"}
	return a
}

// impossible says why what a standard gives cannot be; empty when it can.
func impossible(a diagnose.Amounts, spike *Spike) string {
	x := a.Answer.Amorphous
	switch {
	case x == nil:
		return ""
	case x.Hi < 0:
		return fmt.Sprintf("the phases would add up to %.0f wt%% of the specimen, more than all of it beyond uncertainty", 100-x.Percent)
	case spike != nil && !(spike.WeightPercent >= leastStandard):
		return fmt.Sprintf("so little as %g wt%% of it could not be seen, and it is seen", spike.WeightPercent)
	}
	for _, f := range a.Answer.Fractions {
		if f.Original.Lo > 100 || f.Original.Hi < 0 {
			return fmt.Sprintf("a phase would be %.0f wt%% of the specimen", f.Original.Percent)
		}
	}
	return ""
}

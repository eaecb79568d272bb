package identify

import (
	"math"
	"slices"
	"sort"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// Coverage says how much of what a scan shows an explanation accounts for.
type Coverage struct {
	// Share is the part of the summed area of all peaks that the phases of the fit account for, 0 to 1. A peak counts up to its
	// own area: a phase that puts more there earns no more. Images of peaks in other wavelengths of the tube are left out.
	// 1 for a scan without peaks.
	Share float64
	// Balance is the area that the phases put into all peaks over the area of these, where what is too much in one makes up for what
	// lacks in another: texture leaves it at 1, a phase that is missing does not.
	Balance float64
	Verdict result.Verdict // on the whole, whatever is thought of the phases
	Left    []LeftPeak     // peaks that are not accounted for, ascending angle
	// Doubted are the ids of phases that account for peaks, but whose names do not hold: they may stand in for phases that are missing.
	Doubted []string
	Excused []int // places of the peaks where what the phases lack tells of no phase that is missing
}

// doubt notes that the name of a phase that accounts for peaks does not hold. The explanation is not complete then.
func (c *Coverage) doubt(id string) {
	c.Doubted = append(c.Doubted, id)
	if c.Verdict == result.Complete {
		c.Verdict = result.Partial
	}
}

// A LeftPeak is a peak that the phases of a fit do not account for.
type LeftPeak struct {
	Peak         int     // its place in the list of peaks
	TwoTheta     float64 // degrees
	Area         float64 // that is left of it, counts × degrees
	Share        float64 // of its area that is left
	Significance float64 // of what is left, in standard uncertainties, the misfit of strong lines counted
}

// Judge compares a fit with the peaks that were found without it. Each point's fitted intensity of all phases is shared
// among the peaks that lie there, in proportion to what they have there; background and blank account for nothing. A fit
// of nil, or without phases, explains nothing. Phases may have been searched for or named.
func Judge(fit *pattern.Fit, found []peaks.Peak) Coverage {
	out := Coverage{Share: 1, Balance: 1, Verdict: result.Complete}
	var all, explained, put float64
	out.Excused = excused(fit, found)
	list := accounts(fit, found)
	for _, i := range out.Excused {
		list[i].share = math.Max(list[i].share, 1)
	}
	for i, a := range list {
		p := found[i]
		if !a.counts {
			continue
		}
		got := math.Min(a.share, 1) * p.Area
		all += p.Area
		explained += got
		put += a.share * p.Area
		left := p.Area - got
		misfit := policy.Search.LeastKappa
		if fit != nil {
			misfit = math.Max(misfit, fit.Kappa)
		}
		u := math.Hypot(p.AreaU, misfit*got)
		if left > policy.Coverage.LeftShare*p.Area && left > policy.Coverage.LeftSigma*u {
			out.Left = append(out.Left, LeftPeak{i, p.TwoTheta, left, left / p.Area, left / u})
		}
	}
	out.Left = inResidual(fit, found, out.Left)
	if all > 0 {
		out.Share, out.Balance = explained/all, put/all
		if len(out.Left) == 0 && fit != nil && !out.accountsForAll() {
			out.Share = math.Max(out.Share, inFit(fit, found, list))
		}
	}
	switch {
	case !(out.Share >= policy.Coverage.NoneBelow):
		out.Verdict = result.None
	case len(out.Left) > 0 || !out.accountsForAll():
		out.Verdict = result.Partial
	}
	return out
}

// accountsForAll reports whether the phases account for nearly all of the peak area, or put as much into all peaks together while texture or few
// grains move it from one to another.
func (c Coverage) accountsForAll() bool {
	return c.Share >= policy.Search.MostlyExplained || c.Share >= policy.Evidence.EstablishedShare && c.Balance >= policy.Coverage.Balanced
}

// inFit returns the share of the peak area that a fit leaves nothing of, for a scan none of whose peaks is left. Where lines are dense, peaks that were
// found without them are laid over their feet and the background between them, so that the phases fill them by less than they should; but a fit whose
// background is too stiff to bend under a peak has nowhere to hide what it does not explain.
func inFit(fit *pattern.Fit, found []peaks.Peak, list []account) float64 {
	x := fit.Setup.TwoTheta
	interval := (x[len(x)-1] - x[0]) / math.Max(1, float64(fit.Knots))
	rest := NewLeftover(fit)
	var all, explained float64
	for i, a := range list {
		p := found[i]
		if !a.counts {
			continue
		}
		got := math.Min(a.share, 1)
		if area, u, ok := rest.At(p); ok && p.FWHM < policy.Coverage.Stiff*interval {
			got = math.Max(got, 1-(math.Max(area, 0)+policy.Coverage.Residual*u)/p.Area)
		}
		all, explained = all+p.Area, explained+got*p.Area
	}
	return explained / all
}

// inResidual keeps those of the left peaks at which the fit leaves intensity, too. Where lines are dense, the search for peaks lays
// broad ones over their feet, which the lines of the phases make up and no phase is missing for.
func inResidual(fit *pattern.Fit, found []peaks.Peak, left []LeftPeak) []LeftPeak {
	if fit == nil || len(left) == 0 || len(fit.Setup.Intensity) != len(fit.Fitted) {
		return left
	}
	rest := NewLeftover(fit)
	return slices.DeleteFunc(left, func(l LeftPeak) bool {
		area, u, ok := rest.At(found[l.Peak])
		return ok && area < policy.Coverage.Residual*u
	})
}

// An account is what the phases of a fit put into a peak.
type account struct {
	share  float64 // of the peak's area; above 1 when they put in more
	counts bool    // the peak is of the specimen, and the fit has its points
}

// accounts compares every peak with the curves of a fit.
func accounts(fit *pattern.Fit, found []peaks.Peak) []account {
	out := make([]account, len(found))
	if fit == nil || len(fit.Scales) == 0 {
		for i, p := range found {
			out[i].counts = p.Kind == peaks.KAlpha && p.Area > 0
		}
		return out
	}
	x := fit.Setup.TwoTheta
	shapes := make([]peakShape, len(found))
	total := make([]float64, len(x)) // of all peaks, also of images
	for i, p := range found {
		shapes[i] = shapeOf(p, fit.Setup.Radiation)
		shapes[i].each(x, policy.Coverage.Reach, func(k int, v float64) { total[k] += v })
	}
	for i, p := range found {
		var has, gets float64
		points := 0
		shapes[i].each(x, policy.Coverage.Widths, func(k int, v float64) {
			if !(v > 0) {
				return
			}
			points++
			has += v
			gets += (fit.Fitted[k] - fit.Background[k]) * v / total[k]
		})
		if p.Kind == peaks.KAlpha && points >= policy.Coverage.Points && has > 0 {
			out[i] = account{math.Max(0, gets/has), true}
		}
	}
	return out
}

// A peakShape is the curve of a found peak, Kα2 included.
type peakShape struct {
	centre, partner, first, second, fwhm, eta float64 // degrees; areas of both lines
}

func shapeOf(p peaks.Peak, r xrd.Radiation) peakShape {
	s := peakShape{centre: p.TwoTheta, partner: p.TwoTheta, first: p.Area, fwhm: p.FWHM, eta: p.Eta}
	if partner, ok := xrd.ImageTwoTheta(p.TwoTheta, r.KAlpha1, r.KAlpha2); ok && r.KAlpha2 > r.KAlpha1 && r.Ratio > 0 {
		s.partner, s.first = partner, p.Area/(1+r.Ratio)
		s.second = p.Area - s.first
	}
	return s
}

// each calls what for the points from a number of widths below Kα1 to as many above Kα2, with the intensity of the peak there.
func (s peakShape) each(x []float64, widths float64, what func(k int, v float64)) {
	if !(s.fwhm > 0) {
		return
	}
	reach := widths * s.fwhm
	for k := sort.SearchFloat64s(x, s.centre-reach); k < len(x) && x[k] <= s.partner+reach; k++ {
		v := s.first * xrd.PseudoVoigt(x[k]-s.centre, s.fwhm, s.eta)
		if s.second > 0 {
			v += s.second * xrd.PseudoVoigt(x[k]-s.partner, s.fwhm, s.eta)
		}
		what(k, v)
	}
}

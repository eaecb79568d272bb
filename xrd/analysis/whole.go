package analysis

import (
	"context"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// A leftover is a peak that no phase explains.
type leftover struct {
	peak                peaks.Peak
	share, significance float64 // of its area that is left; of that, in standard uncertainties
}

const (
	// leftoverSigma is the significance from which a left-over peak is reported (common practice: 4 to 4.5 σ for less than
	// one false peak in a hundred scans; the misfit of neighbours asks for a little more).
	leftoverSigma = 5.0
	leftoverShare = 0.3 // of a peak; texture and few grains change a line of a phase that is there by as much
)

// leftovers returns the peaks that neither a phase nor another wavelength explains, with the verdict on the whole. A peak is left
// when the curves of the phases do not fill it, or when a line stands out of the residual there.
func leftovers(found []peaks.Peak, identified *identify.Explanation) ([]leftover, identify.Coverage) {
	whole := identify.Judge(identified.Fit, found)
	share := map[int]leftover{}
	for _, l := range whole.Left {
		share[l.Peak] = leftover{found[l.Peak], l.Share, l.Significance}
	}
	step, stepped := diagnose.EdgeStep(identified)
	var residual identify.Leftover
	if identified.Fit != nil {
		residual = identify.NewLeftover(identified.Fit)
	}
	var out []leftover
	for i, p := range found {
		if p.Kind != peaks.KAlpha || slices.Contains(whole.Excused, i) || stepped && step.OnFoot(p.TwoTheta) {
			continue
		}
		l, left := share[i]
		if identified.Fit != nil {
			if area, u, ok := residual.At(p); ok && area > leftoverSigma*u && area > leftoverShare*p.Area {
				l, left = leftover{p, math.Max(l.share, math.Min(1, area/p.Area)), math.Max(l.significance, area/u)}, true
			}
		}
		if left {
			out = append(out, l)
		}
	}
	whole.Doubted = identified.Coverage.Doubted
	switch {
	case identified.Stopped > 0: // nobody has asked for all that may be there
		if whole.Verdict == result.Complete {
			whole.Verdict = result.Partial
		}
	case whole.Verdict == result.Partial && len(out)+len(whole.Doubted) == 0 && len(whole.Left) > 0: // what was left is the foot of an edge
		whole.Verdict = result.Complete
	case whole.Verdict == result.Complete && len(out)+len(whole.Doubted) > 0:
		whole.Verdict = result.Partial
	}
	return out, whole
}

// poorArea is the peak area of all lines of a phase that diffracts poorly, over that of the strongest line of as much corundum: about
// 6 for corundum itself and gypsum, 5 for feldspars, 7 for calcite and quartz, but 20 for zincite and 45 for ceria and tungsten (I/Ic
// times the sum of relative intensities, from memory). A phase that is missing may be one of the poor ones.
const poorArea = 5.0

// wellExplained is the share of the peak area from which what misfits on lines of known phases is their own: texture and few grains
// change lines of phases that are there, and the scatter of lines allows for that (as for an established name).
const wellExplained = 0.7

// unexplainedMass returns the mass fraction that what is not explained may have, 0 for a scan that is explained. Where phases
// account for most of it, that is what is left in peaks of its own, or what all peaks together lack; otherwise phases may be wrong,
// and all that misfits counts. What is accounted for by names that do not hold counts, too.
func unexplainedMass(e explanation, found []peaks.Peak) float64 {
	if e.cover.Verdict == result.Complete || e.identified.Fit == nil {
		return 0
	}
	var all, apart, known float64
	for _, p := range found {
		if p.Kind == peaks.KAlpha {
			all += p.Area
		}
	}
	for _, l := range e.left {
		apart += l.share * l.peak.Area
	}
	missing := (1 - e.cover.Share) * all
	if e.cover.Share >= wellExplained {
		missing = math.Min(missing, math.Max(apart, (1-e.cover.Balance)*all))
	}
	missing += doubtedArea(e)
	for i, p := range e.identified.Fit.Setup.Phases {
		if p.RIR.Value > 0 {
			known += e.identified.Fit.Scales[i] * e.identified.Fit.VolumeRatio(i) / p.RIR.Value
		}
	}
	mass := missing / poorArea
	if !(mass > 0) {
		return 0
	}
	return mass / (mass + known)
}

// doubtedArea is the area of the peaks of phases whose names do not hold: they may be those of a phase that diffracts poorly.
func doubtedArea(e explanation) (area float64) {
	for _, m := range e.identified.Matches {
		if !slices.Contains(e.cover.Doubted, m.Phase.ID) {
			continue
		}
		for _, l := range m.Lines {
			if l.Own() {
				area += math.Max(0, l.Observed)
			}
		}
	}
	return area
}

const (
	// rightTube is the share of the peak area that named phases must explain with another tube for it to be believed, and
	// farMore by how much it must exceed that with the stated one. In trials the share was 0.75 and more where the right
	// phases were read with the right tube, and 0.66 and less otherwise, with two exceptions of sixty.
	rightTube = 0.75
	farMore   = 0.25
)

// anodes are the tubes that are tried.
var anodes = []string{"Cu", "Co", "Mo", "Cr", "Fe", "Ag"}

// otherTube returns a tube with which far more is explained than with the stated one, nil when there is none. Named phases are tried
// with every tube; a search has screened for one, which is believed when a search with it explains the scan. Where nothing is
// explained and nobody stated the tube, each is tried.
func (p prepared) otherTube(ctx context.Context, e explanation) (*diagnose.Tube, error) {
	if tube, err := p.halved(ctx); tube != nil || err != nil {
		return tube, err
	}
	if e.cover.Verdict == result.Complete {
		return nil, nil
	}
	tubes, share := anodes, namedShare
	if len(p.job.Phases) == 0 {
		tubes, share = nil, searchedShare
		if b := e.identified.Radiation; b != nil {
			tubes = append(tubes, b.Name)
		}
		if p.job.RadiationAssumed && e.cover.Verdict == result.None {
			tubes = append(tubes, anodes...)
		}
	}
	doubtful := len(p.job.Phases) == 0 && !identify.Holds(e.identified.Matches) // another tube was found to explain the scan by names that hold
	var best *diagnose.Tube
	for _, name := range tubes {
		r, err := xrd.ParseRadiation(name)
		if err != nil || r.SameTube(p.job.Radiation) {
			continue
		}
		asking := "asking whether the tube was " + name
		p.tell(e.identified, asking)
		question, err := p.with(r).question(e.decided)
		if err != nil {
			return nil, err
		}
		if p.job.Progress != nil { // what that finds holds for another tube, and explains nothing of the scan yet
			question.Progress = func(q result.Progress) { p.tell(e.identified, asking+": "+q.Doing) }
		}
		got, err := share(ctx, question, p.found.Peaks)
		if err != nil {
			return nil, err
		}
		if got > rightTube && (got > e.cover.Share+farMore || doubtful) && (best == nil || got > best.Share) {
			best = &diagnose.Tube{Name: name, Share: got}
			if len(p.job.Phases) == 0 {
				break // searches are dear
			}
		}
	}
	return best, nil
}

// halved returns the tube of which one wavelength was given, its Kα1 or the mean, for a scan that shows Kα1 and Kα2 apart; nil for none.
func (p prepared) halved(ctx context.Context) (*diagnose.Tube, error) {
	anode, ok := p.job.Radiation.AloneOf()
	if !ok || p.found.Stripped {
		return nil, nil
	}
	found, err := findPeaks(ctx, p.scan, anode, peaks.Settings{})
	if err != nil || !found.Resolved {
		return nil, err
	}
	return &diagnose.Tube{Name: anode.Name, Halved: true}, nil
}

// with returns the scan as if another tube had been stated.
func (p prepared) with(r xrd.Radiation) prepared {
	p.job.Radiation = r
	p.beam = refdata.Beam{Radiation: r, Monochromator: p.beam.Monochromator, MaxTwoTheta: linesUpTo(p.scan, r)}
	return p
}

// namedShare returns the share of the peak area that named phases explain; 0 when no line of them is in range.
func namedShare(ctx context.Context, question identify.Job, found []peaks.Peak) (float64, error) {
	out, set, err := identify.Given(question)
	if err != nil || len(out.Matches) == 0 {
		return 0, nil // phases without lines there
	}
	fit, err := pattern.Run(ctx, set, pattern.Quick)
	if err != nil {
		return 0, ctx.Err()
	}
	return identify.Judge(fit, found).Share, nil
}

// searchedShare returns the share of the peak area that the phases of a search explain, 0 when none of them is established.
func searchedShare(ctx context.Context, question identify.Job, found []peaks.Peak) (float64, error) {
	question.OtherTube = true
	out, err := identify.Run(ctx, question)
	if err != nil || !identify.Established(out.Matches) {
		return 0, ctx.Err()
	}
	return identify.Judge(out.Fit, found).Share, nil
}

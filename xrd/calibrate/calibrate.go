package calibrate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// Errors of Run; test with errors.Is.
var (
	ErrNotStandard = errors.New("the scan does not show the standard")
	ErrNothingLeft = errors.New("nothing left to calibrate with")
)

// A Job is the scan of a standard with what is known of the diffractometer.
type Job struct {
	Scan             xrd.Scan       // of the standard
	File             string         // for the record
	Radiation        xrd.Radiation  // of the tube
	RadiationAssumed bool           // nobody said what the tube is
	Instrument       xrd.Instrument // its radius, slit, monochromator and name are kept; its widths start the fit
	Standard         Standard       // that was scanned
	Range            [2]float64     // degrees 2θ; 0, 0 means all
}

// An Estimate is a value with its standard uncertainty and its 95 % interval.
type Estimate struct{ Value, U, Lo, Hi float64 }

// normal95 is the half width of a 95 % interval in standard uncertainties; scans have thousands of points.
const normal95 = 1.959964

func estimate(v, u float64) Estimate { return Estimate{v, u, v - normal95*u, v + normal95*u} }

// A Line is a line of the standard, certified against observed.
type Line = result.CalibrationLine

// A CurvePoint is what the calibration says at one angle.
type CurvePoint = result.CalibrationPoint

// CovarianceNames are the rows of Result.Covariance.
var CovarianceNames = [8]string{"zero", "displacement", "gauss_tan2", "gauss_tan", "gauss_const", "lorentz_size", "lorentz_strain", "axial"}

// A Result is a calibrated diffractometer with the grounds for it. Uncertainties hold counting noise, misfit and
// the certified cell.
type Result struct {
	Job                   Job               // what was asked
	Radiation             xrd.Radiation     // of the job, without Kα2 where that was stripped
	Instrument            xrd.Instrument    // Calibrated
	Zero                  Estimate          // degrees 2θ
	Displacement          Estimate          // mm, of this specimen
	Correlation           float64           // of the shifts that the two cause (counting and misfit alone)
	Separated             bool              // the range tells them apart: |ρ| ≤ 0.98
	Covariance            [8][8]float64     // of CovarianceNames, in their units
	Lines                 []Line            // of the standard, ascending angle
	Curve                 []CurvePoint      // over the range, ascending
	Range                 [2]float64        // degrees 2θ that were fitted
	MaxShiftU, MaxFWHMRel float64           // greatest uncertainty of the shift (degrees), and of the FWHM (relative), in the range
	ResidualSD            float64           // of Delta − Fitted over the lines, degrees
	Seen                  float64           // share of the amplitudes of the lines in range that was found
	Misfit                float64           // relative, of single points of the lines
	Status                leastsq.Status    // how the fit ended
	Agreement             pattern.Agreement // of the fit
	Cautions              []xrd.Caution     // doubts, the gravest first
}

// Shown returns what a figure of the result shows.
func (r Result) Shown() result.Calibration {
	return result.Calibration{Standard: r.Job.Standard.Name(), Radiation: r.Radiation, Range: r.Range, Simulated: r.Job.Scan.About.Simulated != "",
		Lines: r.Lines, Curve: r.Curve}
}

// Run calibrates. The whole pattern is fitted with the certified cell held, every line's intensity free, no broadening
// but the instrument's, and zero, displacement, the five widths and axial divergence free; zero and displacement have
// priors of 0.1° and 0.15 mm around 0, which matter only where the scan cannot tell them apart. A scan without enough
// of the standard's lines is ErrNotStandard; a fit that did not converge is a Status.
func Run(ctx context.Context, job Job) (Result, error) {
	r := &run{Result: Result{Job: job}, scan: job.Scan}
	if err := r.prepare(); err != nil {
		return Result{}, err
	}
	if err := r.fit(ctx); err != nil {
		return Result{}, err
	}
	r.look()
	if err := r.covariance(); err != nil {
		return Result{}, err
	}
	r.lines()
	r.curve()
	r.caution()
	return r.Result, nil
}

type run struct {
	Result
	scan     xrd.Scan
	found    peaks.Found
	phases   []refdata.Phase
	pairs    []pair
	start    Shift
	fitted   *pattern.Fit
	other    *pattern.Fit                                      // the same with an axial tail that the scan does not call for; nil when it does
	shapeCov [2 + len(widthKinds)][2 + len(widthKinds)]float64 // zero, displacement and widthKinds
}

// leastLines is how many lines a calibration needs: widths have four terms in the angle, positions two.
const leastLines = 4

// prepare crops the scan, finds its peaks and pairs them with the lines of the standard.
func (r *run) prepare() error {
	job := &r.Job
	var err error
	if r.scan, err = job.Scan.Diffracting(); err == nil && job.Range != [2]float64{} {
		r.scan, err = r.scan.Crop(job.Range[0], job.Range[1])
	}
	if err != nil {
		return fmt.Errorf("%w: %w", ErrNothingLeft, err)
	}
	if r.scan.Len() < xrd.MinPoints || !(job.Radiation.KAlpha1 > 0) || !(job.Instrument.Radius > 0) {
		return fmt.Errorf("%w: %d points, %g Å, radius %g mm", ErrNothingLeft, r.scan.Len(), job.Radiation.KAlpha1, job.Instrument.Radius)
	}
	lo, hi := r.scan.Range()
	r.Range = [2]float64{lo, hi}
	r.Radiation = job.Radiation
	beam := refdata.Beam{Radiation: job.Radiation, Monochromator: job.Instrument.Monochromator, MaxTwoTheta: math.Min(175, job.Radiation.LinesUpTo(math.Min(175, hi+2)))}
	if r.phases, err = job.Standard.phases(beam); err != nil {
		return err
	}
	r.recognise()
	if r.found.Stripped {
		r.Radiation.Ratio = 0
	}
	if len(r.pairs) < leastLines || r.Seen < leastShare {
		return fmt.Errorf("%w %s: %d of its lines found alone between %.4g° and %.4g° (%d peaks); check the standard, the radiation and the range",
			ErrNotStandard, job.Standard.Name(), len(r.pairs), lo, hi, len(r.found.Peaks))
	}
	return nil
}

// fairScatter is the scatter of lines around zero and displacement, degrees, that needs no better peaks.
const fairScatter = 0.005

// recognise finds the peaks and pairs them with the lines of the standard. Widths that the scan itself suggests come
// first; where lines scatter, those of the job's instrument are tried, as they are and broader and narrower.
func (r *run) recognise() {
	lo, hi := r.scan.Range()
	best := math.Inf(1)
	for _, times := range []float64{0, 1, 0.6, 1.7} {
		var set peaks.Settings
		if times > 0 {
			ins := widened(r.Job.Instrument, times)
			set.Instrument = &ins
		}
		found := peaks.Find(r.scan, r.Radiation, set)
		pairs, start, seen := matchLines(found, r.phases, r.Job.Instrument.Radius, lo, hi)
		if badness := (start.ResidualSD + 1e-4) / math.Max(seen*seen, 1e-6); len(pairs) >= leastLines && badness < best || times == 0 {
			r.found, r.pairs, r.start, r.Seen = found, pairs, start, seen
			if len(pairs) >= leastLines {
				best = badness
			}
		}
		if best < fairScatter || len(found.Peaks) < leastLines {
			break
		}
	}
	r.scan, r.found = r.found.Without(r.scan)
}

// widened returns an instrument of lines broader by a factor, and without a tail. Widths that are not set are those of an
// ordinary laboratory.
func widened(ins xrd.Instrument, times float64) xrd.Instrument {
	if !(ins.GaussConst > 0) {
		d := xrd.DefaultInstrument()
		ins.GaussTan2, ins.GaussTan, ins.GaussConst, ins.LorentzSize, ins.LorentzStrain = d.GaussTan2, d.GaussTan, d.GaussConst, d.LorentzSize, d.LorentzStrain
	}
	f := times * times
	ins.GaussTan2, ins.GaussTan, ins.GaussConst, ins.LorentzSize, ins.LorentzStrain, ins.Axial = ins.GaussTan2*f, ins.GaussTan*f, ins.GaussConst*f, ins.LorentzSize*times, ins.LorentzStrain*times, 0
	return ins
}

// held are the parameters that a standard does not have, or that free intensities make idle.
var held = []pattern.Kind{pattern.CellA, pattern.CellB, pattern.CellC, pattern.CellAlpha, pattern.CellBeta, pattern.CellGamma,
	pattern.Size, pattern.Strain, pattern.Thermal, pattern.TextureLogR, pattern.Footprint}

// fit fits the whole pattern with and without an axial tail, and keeps the tail when an information criterion
// (n ln χ² + k ln n) approves: a tail that is not there would only blur the positions.
func (r *run) fit(ctx context.Context) error {
	tailed, err := r.fitTailed(ctx)
	if err != nil {
		return err
	}
	s := tailed.Setup
	s.Hold = append(slices.Clone(held), pattern.Axial)
	s.Start = tailed.Restart(pattern.Guess)
	s.Start.Values[pattern.Key{Kind: pattern.Axial}] = 0
	plain, err := settle(ctx, s)
	if err != nil {
		return err
	}
	r.fitted, r.other = plain, tailed
	n := float64(r.scan.Len())
	if n*math.Log(chiSquare(plain, tailed.Noise)/chiSquare(tailed, tailed.Noise)) > math.Log(n) {
		r.fitted, r.other = tailed, nil
	}
	r.Status, r.Agreement, r.Misfit = r.fitted.Status, r.fitted.Agreement, r.fitted.Kappa
	r.Instrument = r.fitted.Instrument()
	r.Instrument.Calibrated, r.Instrument.Name = true, "calibrated with "+r.Job.Standard.Name()
	return nil
}

// settle repeats a fit from where it ended until its estimate of the misfit, and with it the weights, stands: after a poor
// start the first estimate is far too large.
func settle(ctx context.Context, s pattern.Setup) (*pattern.Fit, error) {
	f, err := pattern.Run(ctx, s, pattern.Full)
	for range 4 {
		if err != nil {
			return nil, err
		}
		before := f.Kappa
		s.Start = f.Restart(pattern.Guess)
		if f, err = pattern.Run(ctx, s, pattern.Full); err == nil && math.Abs(f.Kappa-before) <= 0.1*before {
			break
		}
	}
	return f, err
}

// lost is the relative misfit of points from which a fit has not found the lines.
const lost = 0.3

// fitTailed fits with everything free, from other widths when the first ones lead nowhere.
func (r *run) fitTailed(ctx context.Context) (best *pattern.Fit, err error) {
	s := pattern.Setup{TwoTheta: r.scan.TwoTheta, Intensity: r.scan.Intensity, Sigma: r.found.Sigma, Radiation: r.Radiation,
		Phases: r.phases, Hold: held}
	if r.found.Noise.Kind != peaks.Recorded {
		s.Gain, s.Floor = r.found.Noise.Gain, r.found.Noise.Floor
		s.Sigma = r.rawSigma()
	}
	s.Start.Values = map[pattern.Key]float64{{Kind: pattern.Zero}: r.start.Zero, {Kind: pattern.Displacement}: r.start.Displacement}
	for _, times := range []float64{1, 0.6, 1.7} {
		s.Instrument = r.startInstrument(times)
		f, err := settle(ctx, s)
		if err != nil {
			return nil, err
		}
		if best == nil || f.Kappa < best.Kappa {
			best = f
		}
		if best.Kappa < lost {
			break
		}
	}
	return best, nil
}

// rawSigma takes the first weights from the counts themselves: those of the peak fits would be wrong where a peak is.
func (r *run) rawSigma() []float64 {
	out := make([]float64, r.scan.Len())
	for i, y := range r.scan.Intensity {
		out[i] = math.Sqrt(r.found.Noise.Gain*math.Max(y, r.found.Noise.Gain) + r.found.Noise.Floor)
	}
	return out
}

func chiSquare(f *pattern.Fit, variance []float64) (sum float64) {
	for i, y := range f.Setup.Intensity {
		sum += (y - f.Fitted[i]) * (y - f.Fitted[i]) / variance[i]
	}
	return sum
}

// look finds the peaks once more with the calibrated widths and tail, so that their positions mean the same as those of
// the fit.
func (r *run) look() {
	r.found = peaks.Find(r.scan, r.Radiation, peaks.Settings{Instrument: &r.Instrument})
	shift := Shift{Zero: r.param(pattern.Zero), Displacement: r.param(pattern.Displacement), Radius: r.Instrument.Radius}
	if pairs := pairLines(r.found, r.phases, shift); len(pairs) >= leastLines {
		r.pairs = pairs
	}
}

// startInstrument widens the instrument of the job to the median of what the peaks of the standard show, times a factor,
// and lets the zero move.
func (r *run) startInstrument(times float64) xrd.Instrument {
	ins := widened(r.Job.Instrument, 1)
	ratios := make([]float64, 0, len(r.pairs))
	for _, m := range r.pairs {
		p := r.found.Peaks[m.peak]
		ordinary, _ := xrd.ThompsonCoxHastings(ins.GaussianFWHM(p.TwoTheta), ins.LorentzianFWHM(p.TwoTheta))
		ratios = append(ratios, p.FWHM/ordinary)
	}
	slices.Sort(ratios)
	ins = widened(ins, times*ratios[len(ratios)/2])
	ins.Calibrated, ins.Zero, ins.ZeroU = false, 0, priorZero
	return ins
}

// lines compares every line that stands alone with the fit.
func (r *run) lines() {
	var squares float64
	for _, m := range r.pairs {
		p, line := r.found.Peaks[m.peak], r.phases[m.phase].Lines[0]
		l := Line{D: line.D, Certified: line.TwoTheta, Observed: p.TwoTheta, ObservedU: p.TwoThetaU, Delta: p.TwoTheta - line.TwoTheta,
			FWHM: p.FWHM, FWHMU: p.FWHMU}
		if len(line.Families) > 0 {
			l.H, l.K, l.L = line.Families[0].H, line.Families[0].K, line.Families[0].L
		}
		at := r.at(line.TwoTheta)
		l.Fitted, l.FittedU, l.CurveFWHM = at.Shift, at.ShiftU, at.FWHM
		squares += (l.Delta - l.Fitted) * (l.Delta - l.Fitted)
		r.Lines = append(r.Lines, l)
	}
	r.ResidualSD = math.Sqrt(squares / math.Max(1, float64(len(r.Lines)-2)))
}

// curvePoints is enough for a smooth curve.
const curvePoints = 121

func (r *run) curve() {
	lo, hi := r.Range[0], r.Range[1]
	for i := range curvePoints {
		c := r.at(lo + (hi-lo)*float64(i)/(curvePoints-1))
		r.MaxShiftU = math.Max(r.MaxShiftU, c.ShiftU)
		r.Curve = append(r.Curve, c)
	}
	for _, l := range r.Lines {
		c := r.at(l.Certified)
		r.MaxFWHMRel = math.Max(r.MaxFWHMRel, c.FWHMU/c.FWHM)
	}
}

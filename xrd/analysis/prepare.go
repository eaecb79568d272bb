package analysis

import (
	"context"
	"fmt"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/pattern"
)

// prepared is a scan with its peaks, before any phase is looked for.
type prepared struct {
	job   Job
	whole xrd.Scan // in range, with masked points
	scan  xrd.Scan // what is left
	found peaks.Found
	beam  refdata.Beam
}

// prepare crops a scan, drops masked points and those that tell of the detector rather than the specimen, and finds peaks.
func prepare(ctx context.Context, job Job) (prepared, error) {
	p := prepared{job: job.withDefaults()}
	if err := p.job.checkFactors(); err != nil {
		return p, err
	}
	var err error
	if p.whole, err = job.Scan.Diffracting(); err == nil && job.Range != [2]float64{} {
		p.whole, err = p.whole.Crop(job.Range[0], job.Range[1])
	}
	if err != nil {
		return p, fmt.Errorf("%w: %w", ErrNothingLeft, err)
	}
	if p.scan, err = withoutMasks(p.whole, job.Masks); err != nil {
		return p, err
	}
	p.tell(nil, "finding peaks")
	joined := peaks.Oversampled(p.scan, p.job.Radiation.KAlpha1)
	p.scan = p.scan.Rebinned(joined)
	if p.found, err = findPeaks(ctx, p.scan, p.job.Radiation, p.peakSettings()); err != nil {
		return p, err
	}
	if p.found.Stripped { // the pattern is fitted as the peaks were
		p.job.Radiation.Ratio = 0
	}
	if joined > 1 {
		p.found.Cautions = append(p.found.Cautions, xrd.Caution{Code: "oversampled", Severity: xrd.SeverityNote,
			Text:     fmt.Sprintf("Steps of %.2g° are far finer than any line of the scan: every %d points were added up.", p.whole.Step(), joined),
			Remedy:   "Nothing is lost; steps of a tenth of the narrowest width save measuring time.",
			Evidence: map[string]any{"step": p.whole.Step(), "joined": joined}})
	}
	if len(p.found.LeftOut) > 0 { // points that tell of the detector rather than the specimen
		p.scan, p.found = p.found.Without(p.scan)
	}
	p.beam = refdata.Beam{Radiation: p.job.Radiation, Monochromator: p.job.Instrument.Monochromator, MaxTwoTheta: linesUpTo(p.scan, p.job.Radiation)}
	return p, nil
}

// linesUpTo returns the Kα1 angle up to which lines matter to a scan, degrees: a little beyond its end, where their feet reach into it.
func linesUpTo(scan xrd.Scan, r xrd.Radiation) float64 {
	const feet, most = 3, 175
	_, hi := scan.Range()
	return math.Min(most, r.LinesUpTo(math.Min(most, hi+feet)))
}

// findPeaks searches for peaks and returns early, with the context's error, when it is stopped: the search itself touches nothing but
// its own memory, so that it may run out unwatched.
func findPeaks(ctx context.Context, scan xrd.Scan, r xrd.Radiation, set peaks.Settings) (peaks.Found, error) {
	done := make(chan peaks.Found, 1)
	go func() { done <- peaks.Find(scan, r, set) }()
	select {
	case f := <-done:
		return f, ctx.Err()
	case <-ctx.Done():
		return peaks.Found{}, ctx.Err()
	}
}

// withoutMasks drops the points of masked ranges.
func withoutMasks(whole xrd.Scan, masks [][2]float64) (xrd.Scan, error) {
	if len(masks) == 0 {
		return whole, nil
	}
	var x, y, u []float64
	for i, t := range whole.TwoTheta {
		if slices.ContainsFunc(masks, func(m [2]float64) bool { return t >= m[0] && t <= m[1] }) {
			continue
		}
		x, y = append(x, t), append(y, whole.Intensity[i])
		if whole.Sigma != nil {
			u = append(u, whole.Sigma[i])
		}
	}
	s, err := xrd.NewScan(x, y, u, whole.About)
	if err != nil {
		return whole, fmt.Errorf("%w after masking: %w", ErrNothingLeft, err)
	}
	return s, nil
}

// peakSettings are those of a search for peaks with this instrument.
func (p prepared) peakSettings() peaks.Settings {
	return peaks.Settings{Instrument: p.calibrated(), KAlphaAlone: p.job.Instrument.Monochromator.Kind != xrd.NoMonochromator}
}

// calibrated returns the instrument when its widths are known, nil otherwise.
func (p prepared) calibrated() *xrd.Instrument {
	if p.job.Instrument.Calibrated {
		return &p.job.Instrument
	}
	return nil
}

// Widths of the peaks over those of an ordinary instrument within which they are believed.
const leastWidth, mostWidth = 0.3, 4.0

// setup returns what every fit of the scan starts from, with what has been decided so far.
func (p prepared) setup(d diagnose.Decisions) pattern.Setup {
	s := pattern.Setup{
		TwoTheta: p.scan.TwoTheta, Intensity: p.scan.Intensity, Sigma: p.found.Sigma,
		Radiation: p.job.Radiation, Instrument: p.job.Instrument, Specimen: p.job.Specimen,
	}
	s.Axes, s.DeltaB = p.job.described()
	if !s.Instrument.Calibrated && p.found.Width.Peaks > 0 {
		// What the peaks show is a better start than an ordinary instrument; strong lines are a little broader than
		// the narrowest phase.
		lo, hi := p.scan.Range()
		middle := (lo + hi) / 2
		ordinary, _ := xrd.ThompsonCoxHastings(s.Instrument.GaussianFWHM(middle), s.Instrument.LorentzianFWHM(middle))
		f := p.found.Width.At(middle) / ordinary
		if !(f > leastWidth && f < mostWidth) { // dense lines were taken for one
			f = 1
		}
		s.Instrument.GaussTan2, s.Instrument.GaussTan, s.Instrument.GaussConst = s.Instrument.GaussTan2*f*f, s.Instrument.GaussTan*f*f, s.Instrument.GaussConst*f*f
		s.Instrument.LorentzSize, s.Instrument.LorentzStrain = s.Instrument.LorentzSize*f, s.Instrument.LorentzStrain*f
	}
	if d.Anchor == nil {
		s.Anchor = p.job.anchor()
	}
	applySlit(d.Slit, &s)
	if p.found.Noise.Kind != peaks.Recorded {
		s.Gain, s.Floor = p.found.Noise.Gain, p.found.Noise.Floor
	}
	if b := p.job.Blank; b != nil {
		s.Blank, s.BlankVar = onGrid(*b, p.scan.TwoTheta)
	}
	return s
}

// onGrid interpolates a scan at other angles, with the variance of counts; outside its range the end values hold.
func onGrid(s xrd.Scan, x []float64) (y, variance []float64) {
	y, variance = make([]float64, len(x)), make([]float64, len(x))
	for i, t := range x {
		k, _ := s.Between(t, 180)
		switch {
		case k == 0:
			y[i] = s.Intensity[0]
		case k >= s.Len():
			y[i] = s.Intensity[s.Len()-1]
		default:
			w := (t - s.TwoTheta[k-1]) / (s.TwoTheta[k] - s.TwoTheta[k-1])
			y[i] = (1-w)*s.Intensity[k-1] + w*s.Intensity[k]
		}
		variance[i] = math.Max(1, y[i])
	}
	return y, variance
}

// restart returns a setup whose fit goes on from another.
func restart(fit *pattern.Fit, set pattern.Setup, from pattern.Source) pattern.Setup {
	set.Start = fit.Restart(from)
	return set
}

// applySlit adds a correction to a setup; nil adds none.
func applySlit(s *diagnose.Slit, set *pattern.Setup) {
	switch {
	case s == nil:
	case s.Automatic:
		set.Instrument.Slit = xrd.Slit{Mode: xrd.SlitAutomatic}
	default: // only R α/l matters: a slit of 1° and the length that goes with it
		set.Instrument.Slit = xrd.Slit{Mode: xrd.SlitFixed, Value: 1}
		set.Specimen.Length = set.Instrument.Radius * xrd.Radians(1) / math.Sin(xrd.Radians(s.Full)/2)
	}
}

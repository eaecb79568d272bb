package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
)

// learn takes count rate, background and widths from an earlier result of the instrument. What it does not say stays as it was.
func (q *Request) learn() (result.EarlierScan, error) {
	doc := q.Earlier.Document
	e := result.EarlierScan{Sample: doc.Scan.Sample, Wrong: []result.EarlierFault{}}
	if doc.Scan.Wavelength > 0 && !(xrd.Radiation{KAlpha1: doc.Scan.Wavelength}).SameTube(q.Tubes[0].Radiation) {
		return e, fmt.Errorf("%w: the earlier result is of %s radiation, the plan of %s; its count rates say nothing", ErrRequest, doc.Scan.Radiation, q.Tubes[0].Radiation.Name)
	}
	if r := q.widthRatio(); r > 0 {
		e.WidthRatio = &r
		ins := &q.Instrument
		ins.GaussTan2, ins.GaussTan, ins.GaussConst, ins.LorentzSize, ins.LorentzStrain = ins.GaussTan2*r*r, ins.GaussTan*r*r, ins.GaussConst*r*r, ins.LorentzSize*r, ins.LorentzStrain*r
	}
	time := 1.0
	if doc.Scan.CountingTimeS != nil {
		time = *doc.Scan.CountingTimeS
	} else {
		return e, fmt.Errorf("%w: the earlier result does not say its counting time; state it in the scan as '# counting_time_s: 1' and analyse it again", ErrRequest)
	}
	if b := q.Earlier.Curves.Background; len(b) > 0 {
		sorted := slices.Sorted(slices.Values(b))
		v := math.Max(0, sorted[len(sorted)/2]/time)
		e.Background = &v
		q.Background, q.Discriminates = v, true // it has its fluorescence in it
	}
	if rate := q.rateOf(doc, time); rate > 0 {
		e.Rate = &rate
		q.Rate = rate
	}
	return e, nil
}

// widthRatio is the median width of the fitted peaks over that of the instrument; 0 where there are too few.
func (q *Request) widthRatio() float64 {
	var ratios []float64
	for _, p := range q.Earlier.Document.Peaks {
		if w := q.Instrument.FWHM(p.TwoTheta); p.FWHM > 0.3*w && p.FWHM < 3*w {
			ratios = append(ratios, p.FWHM/w)
		}
	}
	if len(ratios) < 3 {
		return 0
	}
	slices.Sort(ratios)
	return ratios[len(ratios)/2]
}

// rateOf inverts the intensities of the phases that are known; 0 where there is none.
func (q *Request) rateOf(doc result.Document, time float64) float64 {
	j := q.job(q.Tubes[0], q.Lo, q.Hi, 0, 1)
	j.Rate, j.Components = 1, nil
	var found []float64
	known := q.EarlierPhases
	if known == nil {
		known = q.Tubes[0].Phases
	}
	for _, p := range known {
		for _, d := range doc.Phases {
			if strings.EqualFold(d.ID, p.ID) && d.WeightPercent != nil && d.Scale > 0 {
				j.Components = append(j.Components, simulate.Component{Phase: p, WeightPercent: *d.WeightPercent})
				found = append(found, d.Scale)
			}
		}
	}
	var sum float64
	for _, c := range j.Components {
		sum += c.WeightPercent
	}
	if !(sum > 0) {
		return 0
	}
	for i := range j.Components {
		j.Components[i].WeightPercent *= 100 / sum // the others absorb about as much
	}
	scan, err := simulate.Run(j)
	if err != nil {
		return 0
	}
	var seen, unit float64
	for i, s := range scan.Scales {
		seen, unit = seen+found[i], unit+s*sum/100
	}
	return seen / unit / time
}

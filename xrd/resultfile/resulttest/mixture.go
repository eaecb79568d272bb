// Package resulttest builds invented analysis results for tests of figures, reports and result folders. Nothing in it
// was measured and nothing in it was fitted: the calculated curve is the curve the counts were drawn from.
package resulttest

import (
	"fmt"
	"math"
	"math/rand/v2"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Points is the length of the simulated scan: 5° to 150° in steps of 0.02°.
const Points = 7251

const wavelength = 1.54059291 // Cu Kα1, Å; NIST SRD 128

// A recipe is an invented phase; relative intensities are rough ones from memory, good enough to look like a pattern.
type recipe struct {
	id, name, formula    string
	cell                 refdata.Cell
	wt, u, vol, rir, rho float64
	strongest            float64 // area, counts × degrees
	hkl                  [][3]int
	intensity            []float64
	evidence, origin     string
	lim                  float64
}

var recipes = []recipe{
	{id: "corundum", name: "corundum", formula: "Al2O3", cell: refdata.Cell{A: 4.7590, B: 4.7590, C: 12.9918, Alpha: 90, Beta: 90, Gamma: 120},
		wt: 31.42, u: 0.26, vol: 34.1, rir: 1.0, rho: 3.986, strongest: 340, evidence: "established", origin: "specimen", lim: 0.42,
		hkl: [][3]int{{0, 1, 2}, {1, 0, 4}, {1, 1, 0}, {0, 0, 6}, {1, 1, 3}, {0, 2, 4}, {1, 1, 6}, {0, 1, 8}, {2, 1, 4}, {3, 0, 0},
			{1, 0, 10}, {1, 1, 9}, {2, 2, 0}, {2, 2, 3}, {1, 3, 4}, {2, 2, 6}, {2, 1, 10}, {3, 2, 4}, {4, 1, 0}, {4, 1, 6}},
		intensity: []float64{61, 94, 43, 1, 100, 47, 93, 9, 37, 57, 18, 10, 8, 7, 9, 15, 17, 13, 16, 20}},
	{id: "fluorite", name: "fluorite", formula: "CaF2", cell: refdata.Cell{A: 5.4631, B: 5.4631, C: 5.4631, Alpha: 90, Beta: 90, Gamma: 90},
		wt: 34.37, u: 0.24, vol: 46.5, rir: 3.9, rho: 3.181, strongest: 1450, evidence: "established", origin: "specimen", lim: 0.11,
		hkl: [][3]int{{1, 1, 1}, {2, 0, 0}, {2, 2, 0}, {3, 1, 1}, {2, 2, 2}, {4, 0, 0}, {3, 3, 1}, {4, 2, 0}, {4, 2, 2}, {5, 1, 1},
			{4, 4, 0}, {5, 3, 1}, {6, 2, 0}, {5, 3, 3}},
		intensity: []float64{92, 0.4, 100, 31, 0.3, 11, 10, 0.4, 19, 7, 6, 9, 13, 4}},
	{id: "zincite", name: "zincite", formula: "ZnO", cell: refdata.Cell{A: 3.2501, B: 3.2501, C: 5.2071, Alpha: 90, Beta: 90, Gamma: 120},
		wt: 34.21, u: 0.31, vol: 26.0, rir: 5.4, rho: 5.675, strongest: 1900, evidence: "established", origin: "specimen", lim: 0.08,
		hkl: [][3]int{{1, 0, 0}, {0, 0, 2}, {1, 0, 1}, {1, 0, 2}, {1, 1, 0}, {1, 0, 3}, {2, 0, 0}, {1, 1, 2}, {2, 0, 1}, {0, 0, 4},
			{2, 0, 2}, {1, 0, 4}, {2, 0, 3}, {2, 1, 0}, {2, 1, 1}, {1, 1, 4}, {2, 1, 2}, {1, 0, 5}, {3, 0, 0}, {2, 1, 3}},
		intensity: []float64{57, 41, 100, 22, 33, 29, 4, 25, 12, 2, 4, 2, 8, 2, 6, 4, 4, 6, 4, 9}},
}

// Mixture is a three-phase scan with Poisson noise, the same for the same seed; an unindexed weak peak stands at
// 20.86° and one expected line of the first phase is reported as missing.
func Mixture(seed uint64) result.Analysis { return build(recipes, seed) }

// Many is a mixture of n phases with few lines each: more than any figure has colours for.
func Many(n int) result.Analysis {
	rs := make([]recipe, n)
	for i := range rs {
		a := 3.3 + 0.11*float64(i)
		rs[i] = recipe{id: fmt.Sprintf("phase-%02d", i+1), name: fmt.Sprintf("phase number %d", i+1), formula: "X",
			cell: refdata.Cell{A: a, B: a, C: a, Alpha: 90, Beta: 90, Gamma: 90}, wt: 100 / float64(n), u: 0.3, vol: 100 / float64(n),
			rir: 3, rho: 5, strongest: 2500 / float64(n), evidence: "probable", origin: "specimen", lim: 0.4,
			hkl: [][3]int{{1, 1, 1}, {2, 0, 0}, {2, 2, 0}, {3, 1, 1}}, intensity: []float64{100, 50, 40, 30}}
	}
	return build(rs, 7)
}

// Empty is a scan in which nothing was found.
func Empty() result.Analysis {
	r := build(nil, 3)
	r.Document.NotDetected = append(r.Document.NotDetected, result.NotDetected{ID: "quartz", Name: "quartz", DetectionLimit: ptr(0.8), Asked: true})
	return r
}

func ptr(v float64) *float64 { return &v }

func build(rs []recipe, seed uint64) result.Analysis {
	r := result.Analysis{Document: frame(), Curves: background()}
	c := &r.Curves
	for _, rec := range rs {
		phase, share := rec.phase(c.TwoTheta)
		r.Document.Phases = append(r.Document.Phases, phase)
		c.Phases = append(c.Phases, share)
		for i, v := range share {
			c.Calculated[i] += v
		}
	}
	noise(c, seed)
	if len(rs) > 0 {
		finish(&r.Document)
	}
	return r
}

func background() result.Curves {
	c := result.Curves{Phases: [][]float64{}}
	for i := range Points {
		t := 5 + 0.02*float64(i)
		b := 38 + 260*math.Exp(-t/9) + 0.05*t
		c.TwoTheta = append(c.TwoTheta, math.Round(t*1e4)/1e4)
		c.Background = append(c.Background, b)
		c.Calculated = append(c.Calculated, b)
	}
	return c
}

// phase places Lorentzian-tailed doublets at the angles of the cell and lists the lines.
func (rec recipe) phase(twoTheta []float64) (result.Phase, []float64) {
	share := make([]float64, len(twoTheta))
	var lines []result.PhaseLine
	recip := rec.cell.Reciprocal()
	for k, hkl := range rec.hkl {
		d := 1 / math.Sqrt(recip.Norm2(float64(hkl[0]), float64(hkl[1]), float64(hkl[2])))
		angle, ok := xrd.TwoTheta(d, wavelength)
		if !ok || angle > 149 {
			continue
		}
		area := rec.strongest * rec.intensity[k] / 100
		width := 0.09 + 0.0009*angle
		addLine(share, twoTheta, angle, area/1.5, width)
		if second, ok := xrd.TwoTheta(d, 1.54442740); ok {
			addLine(share, twoTheta, second, area/3, width)
		}
		observed := area * (1 + 0.04*math.Sin(float64(7*k+len(rec.id))))
		h, kk, l := hkl[0], hkl[1], hkl[2]
		verdict := result.LineSeen
		if k%5 == 3 {
			verdict = result.LineOverlapped
		}
		lines = append(lines, result.PhaseLine{H: &h, K: &kk, L: &l, D: d, TwoTheta: angle, Expected: area,
			Observed: ptr(observed), ObservedU: ptr(2 + 0.01*area), Own: k%5 != 3, Verdict: verdict})
	}
	vU := 1.1 * rec.u
	p := result.Phase{ID: rec.id, Name: rec.name, Formula: rec.formula, Source: "invented, after " + rec.name, Origin: rec.origin, Evidence: result.Evidence(rec.evidence),
		Reasons: []result.Reason{{Code: "own-lines", Text: "14 lines of its own stand clear of other phases", Value: ptr(14)},
			{Code: "strongest-seen", Text: "its strongest line is there at the expected place", Value: ptr(0.004)}},
		WeightPercent: ptr(rec.wt), WeightPercentLo: ptr(rec.wt - 1.96*rec.u), WeightPercentHi: ptr(rec.wt + 1.96*rec.u),
		VolumePercent: ptr(rec.vol), VolumePercentLo: ptr(rec.vol - 1.96*vU), VolumePercentHi: ptr(rec.vol + 1.96*vU),
		DetectionLimit: ptr(rec.lim), Hazards: []result.Hazard{}, RIR: ptr(rec.rir), RIROrigin: "computed", RIRBasis: "area", RIRRadiation: "Cu",
		Density: ptr(rec.rho), DensityOrigin: "computed", Scale: rec.strongest, ScaleU: 0.006 * rec.strongest,
		Cell: &rec.cell, CellU: &refdata.Cell{A: 0.0002, B: 0.0002, C: 0.0008}, Lines: lines, SameAs: []string{},
		Alternatives: []result.Alternative{}, Texture: []result.Texture{{Pole: [3]int{0, 0, 1}, R: 0.94, RU: 0.02}},
		Budget: []result.BudgetItem{{Source: "counting", UWeightPercent: 0.5 * rec.u}, {Source: "reference intensity ratio", UWeightPercent: 0.8 * rec.u},
			{Source: "texture and line scatter", UWeightPercent: 0.33 * rec.u}}}
	return p, share
}

func addLine(share, twoTheta []float64, angle, area, fwhm float64) {
	lo := int((angle - 4 - twoTheta[0]) / 0.02)
	for i := max(lo, 0); i < len(share) && twoTheta[i] < angle+4; i++ {
		x := 2 * (twoTheta[i] - angle) / fwhm
		share[i] += area * (0.5*2/(math.Pi*fwhm)/(1+x*x) + 0.5*0.9394/fwhm*math.Exp(-math.Ln2*x*x))
	}
}

// noise draws counts around the calculated curve, with one line that no phase explains.
func noise(c *result.Curves, seed uint64) {
	extra := make([]float64, len(c.TwoTheta))
	addLine(extra, c.TwoTheta, 20.86, 14, 0.12)
	rng := rand.New(rand.NewPCG(seed, 1))
	for i, m := range c.Calculated {
		y := max(0, math.Round(m+extra[i]+math.Sqrt(m+extra[i])*rng.NormFloat64()))
		c.Observed = append(c.Observed, y)
		c.Sigma = append(c.Sigma, math.Sqrt(m))
	}
}

package peaks_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

// A tally counts how a search fared over many scans of known content.
type tally struct {
	near, nearFound int // of these, the ones of 5 to 7
	made, found     int // peaks of at least 5 expected standard uncertainties of their area
	seen, seenFound int // peaks that stand out by 5 in the very counts of the scan
	scans, invented int
	pulls           []float64 // (found − true place)/standard uncertainty
	areaPulls       []float64
	areas, truths   float64 // sums over peaks found
}

// expectedSigma returns the standard uncertainty of a line's area when place and shape are known: what no search can
// beat.
func expectedSigma(p xrdtest.Pattern, l xrdtest.Line) float64 {
	p.Lines = []xrdtest.Line{l}
	p.Lo, p.Hi = l.TwoTheta-2, l.TwoTheta+3
	angles := p.Angles()
	with := p.Expected(angles)
	p.Lines = nil
	without := p.Expected(angles)
	info := 0.0
	for i := range with {
		t := (with[i] - without[i]) / l.Area
		info += t * t / with[i]
	}
	return 1 / math.Sqrt(info)
}

// seenSigma returns by how many standard uncertainties a line stands out in the counts themselves, for one who knows its
// place and shape and everything else, but the level under it only to a thousandth beside what the surroundings tell.
func seenSigma(p xrdtest.Pattern, l xrdtest.Line, scan xrd.Scan) float64 {
	lines := slices.Clone(p.Lines)
	i, j := scan.Between(l.TwoTheta-6*l.FWHM, l.TwoTheta+6*l.FWHM+0.3)
	angles := scan.TwoTheta[i:j]
	with := p.Expected(angles)
	p.Lines = slices.DeleteFunc(lines, func(k xrdtest.Line) bool { return k == l })
	without := p.Expected(angles)
	var tt, tr, tw, ww, wr, third float64
	for k, mean := range without {
		t, w, r := (with[k]-mean)/l.Area, 1/mean, scan.Intensity[i+k]-mean
		tt, tr, tw, ww, wr = tt+w*t*t, tr+w*t*r, tw+w*t, ww+w, wr+w*r
		third += w * t * w * t * w * t * mean
	}
	b := 0.001 * p.Background(l.TwoTheta)
	free := ww + 1/(b*b)
	sum, variance := tr-tw*wr/free, tt-tw*tw/free
	if sum <= 0 {
		return 0
	}
	// Few counts are skew: the sum is like Poisson counts in units of third/variance, of which the root of the deviance
	// is nearly normal.
	unit := third / variance
	mean, n := variance/(unit*unit), variance/(unit*unit)+sum/unit
	return math.Sqrt(2 * (n*math.Log(n/mean) - (n - mean)))
}

// add compares found peaks with the lines that were made.
func (c *tally) add(p xrdtest.Pattern, scan xrd.Scan, f peaks.Found) {
	c.scans++
	used := make([]bool, len(f.Peaks))
	for _, l := range p.Lines {
		best := -1
		for i, q := range f.Peaks {
			if d := math.Abs(q.TwoTheta - l.TwoTheta); d < l.FWHM && (best < 0 || d < math.Abs(f.Peaks[best].TwoTheta-l.TwoTheta)) {
				best = i
			}
		}
		ratio := l.Area / expectedSigma(p, l)
		strong := ratio >= 5
		if strong {
			c.made++
		}
		if seenSigma(p, l, scan) >= 5 {
			c.seen++
			if best >= 0 {
				c.seenFound++
			}
		}
		if strong && ratio < 7 {
			c.near++
			if best >= 0 {
				c.nearFound++
			}
		}
		if best < 0 {
			continue
		}
		used[best] = true
		q := f.Peaks[best]
		if strong {
			c.found++
			c.pulls = append(c.pulls, (q.TwoTheta-l.TwoTheta)/q.TwoThetaU)
			c.areaPulls = append(c.areaPulls, (q.Area-l.Area)/q.AreaU)
			c.areas, c.truths = c.areas+q.Area, c.truths+l.Area
		}
	}
	for i := range used {
		if !used[i] && f.Peaks[i].Kind == peaks.KAlpha {
			c.invented++
		}
	}
}

func spread(v []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sum += (x - mean) * (x - mean)
	}
	return math.Sqrt(sum / float64(len(v)-1))
}

// airAndHalo is a background that rises to low angles and has a resin halo 8° wide.
func airAndHalo(level float64) func(float64) float64 {
	return func(t float64) float64 {
		h := (t - 19) / 3.4
		return level * (0.6 + 6/t + 0.8*math.Exp(-h*h/2))
	}
}

// A peak whose true area is 5 standard uncertainties shows anything from 3 to 7 of them, so that of the faintest some are
// missed at any threshold that keeps noise out; the table shows their share apart, and that of the peaks which stand out
// by 5 in the counts as drawn.
//
// TestQuality measures the search on simulated scans and prints a table: peaks of at least five standard uncertainties
// found, peaks invented, pulls of places and bias of areas.
func TestQuality(t *testing.T) {
	made, all, seen, seenFound, invented, scans := 0, 0, 0, 0, 0, 0
	fmt.Println("scan                      ≥5σ made  found %  5–7σ found %  ≥5σ in counts  found %  false/scan  place pull  area pull  area bias %")
	for _, c := range []struct {
		name        string
		background  float64
		least, most float64 // areas in counts
		step        float64
	}{
		{"5 counts", 5, 20, 2000, 0.02},
		{"100 counts", 100, 100, 20000, 0.02},
		{"1e4 counts", 1e4, 1000, 2e5, 0.02},
		{"1e6 counts at the top", 1e4, 2e4, 1e7, 0.02},
		{"coarse steps", 100, 100, 20000, 0.05},
		{"fine steps", 20, 200, 20000, 0.005},
	} {
		var sum tally
		for seed := range uint64(24) {
			p := xrdtest.Pattern{Lo: 8, Hi: 120, Step: c.step, Background: airAndHalo(c.background)}
			p.Lines = xrdtest.Spread(seed, 40, 12, 118, c.least*c.step, c.most*c.step)
			scan := p.Scan(t, seed)
			sum.add(p, scan, peaks.Find(scan, copper, peaks.Settings{}))
		}
		found := float64(sum.found) / float64(sum.made)
		fmt.Printf("%-24s %9d %8.1f %13.1f %14d %8.1f %11.2f %11.2f %10.2f %12.2f\n", c.name, sum.made, 100*found, 100*float64(sum.nearFound)/float64(max(sum.near, 1)), sum.seen, 100*float64(sum.seenFound)/float64(sum.seen),
			float64(sum.invented)/float64(sum.scans), spread(sum.pulls), spread(sum.areaPulls), 100*(sum.areas/sum.truths-1))
		made, all = made+sum.made, all+sum.found
		assert.GreaterOrEqual(t, found, 0.98, c.name)
		invented, scans = invented+sum.invented, scans+sum.scans
		assert.LessOrEqual(t, float64(sum.invented)/float64(sum.scans), 0.15, c.name) // 24 scans know a rate to ±0.06
		assert.InDelta(t, 1, spread(sum.pulls), 0.15, c.name)
		assert.InDelta(t, 1, spread(sum.areaPulls), 0.15, c.name)
		assert.GreaterOrEqual(t, float64(sum.seenFound)/float64(sum.seen), 0.98, "%s, as counted", c.name)
		seen, seenFound = seen+sum.seen, seenFound+sum.seenFound
		assert.InDelta(t, 1, sum.areas/sum.truths, 0.01, c.name)
	}
	assert.GreaterOrEqual(t, float64(all)/float64(made), 0.99, "all scans together")
	assert.GreaterOrEqual(t, float64(seenFound)/float64(seen), 0.99, "all scans together, as counted")
	assert.LessOrEqual(t, float64(invented)/float64(scans), 0.1, "all scans together")
}

// TestFalseAlarmsOfNoise counts what is found where nothing is; haloes are as wide as the wavelength makes them.
func TestFalseAlarmsOfNoise(t *testing.T) {
	for _, c := range []struct {
		tube  string
		level float64
	}{{"Cu", 0.2}, {"Cu", 5}, {"Cu", 100}, {"Cu", 1e4}, {"Cu", 1e5}, {"Mo", 5}, {"Mo", 300}, {"Mo", 2e4}, {"Cr", 50}} {
		tube, err := xrd.ParseRadiation(c.tube)
		require.NoError(t, err)
		broad := tube.KAlpha1 / copper.KAlpha1
		copperBackground := airAndHalo(c.level)
		invented, scans := 0, 60
		for seed := range uint64(scans) {
			p := xrdtest.Pattern{Lo: 10 * broad, Hi: 10*broad + 60, Step: 0.02 * math.Min(broad, 1), Radiation: tube,
				Background: func(t float64) float64 { return copperBackground(t / broad) }}
			invented += len(peaks.Find(p.Scan(t, 100+seed), tube, peaks.Settings{}).Peaks)
		}
		fmt.Printf("%s, background %8g: %.3f false peaks a scan\n", c.tube, c.level, float64(invented)/float64(scans))
		assert.LessOrEqual(t, float64(invented)/float64(scans), 0.1, "%s, background %g", c.tube, c.level)
	}
}

// TestAreasOfFaintPeaksAreUnbiased repeats one scan with lines of 100 counts.
func TestAreasOfFaintPeaksAreUnbiased(t *testing.T) {
	var areas, truths float64
	for seed := range uint64(60) {
		p := xrdtest.Pattern{Lo: 20, Hi: 100, Step: 0.02, Background: flat(3)}
		for at := 25.0; at < 95; at += 5 {
			p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: 100 * 0.02, FWHM: xrdtest.Width(at), Eta: 0.5})
		}
		p.Lines[0].Area, p.Lines[5].Area, p.Lines[10].Area = 100, 100, 100 // these give the width
		for _, q := range peaks.Find(p.Scan(t, seed), copper, peaks.Settings{}).Peaks {
			if k := slices.IndexFunc(p.Lines, func(l xrdtest.Line) bool { return math.Abs(l.TwoTheta-q.TwoTheta) < 0.1 }); k >= 0 && p.Lines[k].Area < 50 {
				areas, truths = areas+q.Area, truths+p.Lines[k].Area
			}
		}
	}
	fmt.Printf("lines of 100 counts: area bias %.2f %% over %.0f lines\n", 100*(areas/truths-1), truths/2)
	assert.InDelta(t, 1, areas/truths, 0.01)
}

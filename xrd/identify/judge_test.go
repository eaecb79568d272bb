package identify

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// fitOf fits some phases to a simulated scan, whatever the scan shows, and finds its peaks.
func fitOf(t *testing.T, s specimen, ids ...string) (*pattern.Fit, []peaks.Peak) {
	t.Helper()
	lib := library.Starter()
	job := s.job(t, lib)
	set := job.Setup
	for _, id := range ids {
		i, ok := lib.Find(id)
		require.True(t, ok, id)
		p, err := lib.Phase(i, job.Beam)
		require.NoError(t, err)
		set.Phases = append(set.Phases, p)
	}
	scan, err := xrd.NewScan(set.TwoTheta, set.Intensity, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	found := peaks.Find(scan, set.Radiation, peaks.Settings{}).Peaks
	fit, err := pattern.Run(context.Background(), set, pattern.Full)
	require.NoError(t, err)
	return fit, found
}

func TestJudge(t *testing.T) {
	three := specimen{parts: []part{{"copper", 300, 0}, {"corundum", 100, 0}, {"rutile", 60, 0}}, seed: 21}
	for _, c := range []struct {
		name    string
		phases  []string
		lo, hi  float64 // of the share
		verdict result.Verdict
		left    bool
	}{
		{"everything named", []string{"copper", "corundum", "rutile"}, 0.95, 1, result.Complete, false},
		{"a phase too many", []string{"copper", "corundum", "rutile", "zincite"}, 0.95, 1, result.Complete, false},
		{"the least is missing", []string{"copper", "corundum"}, 0.6, 0.9, result.Partial, true},
		{"only the least is named", []string{"rutile"}, 0.05, 0.45, result.None, true},
		{"none is named", nil, 0, 0, result.None, true},
		{"another phase is named", []string{"zincite"}, 0, 0.4, result.None, true},
	} {
		fit, found := fitOf(t, three, c.phases...)
		got := Judge(fit, found)
		assert.Equal(t, c.verdict, got.Verdict, c.name)
		assert.GreaterOrEqual(t, got.Share, c.lo, c.name)
		assert.LessOrEqual(t, got.Share, c.hi, c.name)
		assert.Equal(t, c.left, len(got.Left) > 0, c.name)
		for _, l := range got.Left {
			assert.Equal(t, found[l.Peak].TwoTheta, l.TwoTheta)
			assert.Greater(t, l.Significance, policy.Coverage.LeftSigma)
		}
	}
}

// The share is that of the areas: of two phases whose lines stand apart, each accounts for its own part.
func TestJudgeShareIsOfAreas(t *testing.T) {
	two := specimen{parts: []part{{"copper", 300, 0}, {"rutile", 200, 0}}, seed: 22}
	fit, found := fitOf(t, two, "copper")
	var all, copper float64
	for _, p := range found {
		all += p.Area
		for _, l := range fit.Lines(0) {
			if d := p.TwoTheta - l.TwoTheta; d > -0.1 && d < 0.1 {
				copper += p.Area
				break
			}
		}
	}
	assert.InDelta(t, copper/all, Judge(fit, found).Share, 0.03)
}

func TestJudgeWithoutPeaksOrFit(t *testing.T) {
	assert.Equal(t, Coverage{Share: 1, Balance: 1, Verdict: result.Complete}, Judge(nil, nil), "nothing is to be explained")
	got := Judge(nil, []peaks.Peak{{TwoTheta: 30, Area: 100, AreaU: 2, FWHM: 0.1, Kind: peaks.KAlpha}, {TwoTheta: 27, Area: 50, AreaU: 2, FWHM: 0.1, Kind: peaks.KBeta}})
	assert.Equal(t, result.None, got.Verdict)
	assert.Zero(t, got.Share)
	assert.Equal(t, []LeftPeak{{0, 30, 100, 1, 50}}, got.Left, "images of peaks are not counted")
}

// A phase that puts in more than a peak has does not make up for another that is missing.
func TestJudgeCapsEachPeak(t *testing.T) {
	x := make([]float64, 2001)
	for i := range x {
		x[i] = 30 + 0.005*float64(i)
	}
	f := &pattern.Fit{Setup: pattern.Setup{TwoTheta: x, Radiation: xrd.Radiation{KAlpha1: 1.5406}, Phases: []refdata.Phase{{}}},
		Scales: []float64{1}, Fitted: make([]float64, len(x)), Background: make([]float64, len(x))}
	for i := range x {
		f.Fitted[i] = 500 * xrd.PseudoVoigt(x[i]-33, 0.1, 0.5)
	}
	found := []peaks.Peak{{TwoTheta: 33, Area: 100, AreaU: 1, FWHM: 0.1, Eta: 0.5, Kind: peaks.KAlpha}, {TwoTheta: 37, Area: 300, AreaU: 1, FWHM: 0.1, Eta: 0.5, Kind: peaks.KAlpha}}
	got := Judge(f, found)
	assert.InDelta(t, 0.25, got.Share, 0.005)
	assert.InDelta(t, 1.25, got.Balance, 0.03, "five times the area of the one, nothing of the other")
	assert.Equal(t, result.None, got.Verdict)
}

// Of two peaks that overlap, the one that a phase accounts for does not lend what is its own to the other, nor takes it.
func TestJudgeTellsNeighboursApart(t *testing.T) {
	x := make([]float64, 1001)
	for i := range x {
		x[i] = 31 + 0.004*float64(i)
	}
	found := []peaks.Peak{{TwoTheta: 33, Area: 100, AreaU: 1, FWHM: 0.1, Eta: 0.5, Kind: peaks.KAlpha}, {TwoTheta: 33.15, Area: 20, AreaU: 1, FWHM: 0.1, Eta: 0.5, Kind: peaks.KAlpha}}
	f := &pattern.Fit{Setup: pattern.Setup{TwoTheta: x, Radiation: xrd.Radiation{KAlpha1: 1.5406}, Phases: []refdata.Phase{{}}},
		Scales: []float64{1}, Fitted: make([]float64, len(x)), Background: make([]float64, len(x))}
	for i := range x {
		f.Fitted[i] = 100 * xrd.PseudoVoigt(x[i]-33, 0.1, 0.5)
	}
	got := Judge(f, found)
	require.Len(t, got.Left, 1)
	assert.Equal(t, 1, got.Left[0].Peak)
	assert.Less(t, got.Left[0].Area, 20.0)
	for i := range x { // both are there
		f.Fitted[i] += 20 * xrd.PseudoVoigt(x[i]-33.15, 0.1, 0.5)
	}
	got = Judge(f, found)
	assert.Empty(t, got.Left)
	assert.InDelta(t, 1, got.Share, 1e-6)
	for i := range x { // only half of both: what the stronger lacks is not taken from the other
		f.Fitted[i] /= 2
	}
	assert.InDelta(t, 0.5, Judge(f, found).Share, 1e-6)
}

// A broad peak that the search for peaks lays over the feet of lines is not left when the fit leaves nothing there; one that the fit
// leaves is.
func TestLeftPeaksStandInTheResidual(t *testing.T) {
	fit, found := fitOf(t, specimen{parts: []part{{"copper", 300, 0}, {"rutile", 200, 0}}, seed: 22}, "copper", "rutile")
	require.Empty(t, Judge(fit, found).Left)
	broad := append(slices.Clone(found), peaks.Peak{TwoTheta: 34, Area: 40, AreaU: 2, FWHM: 2, Eta: 0.5, Kind: peaks.KAlpha})
	assert.Empty(t, Judge(fit, broad).Left, "nothing stands there")
	missing, found := fitOf(t, specimen{parts: []part{{"copper", 300, 0}, {"rutile", 200, 0}}, seed: 22}, "copper")
	got := Judge(missing, found)
	require.NotEmpty(t, got.Left)
	rest := NewLeftover(missing)
	for _, l := range got.Left {
		area, u, _ := rest.At(found[l.Peak])
		assert.Greater(t, area/u, policy.Coverage.Residual)
	}
}

// What is left of a broad peak, as of a film, is all of it, not what a line as narrow as those of the fit would take of it.
func TestLeftoverOfABroadPeak(t *testing.T) {
	fit, _ := fitOf(t, specimen{parts: []part{{"copper", 300, 0}}, seed: 22}, "copper")
	broad := peaks.Peak{TwoTheta: 60, Area: 400, FWHM: 1.5, Eta: 0.5, Kind: peaks.KAlpha}
	for i, x := range fit.Setup.TwoTheta {
		fit.Setup.Intensity[i] += broad.Area * xrd.PseudoVoigt(x-broad.TwoTheta, broad.FWHM, broad.Eta)
	}
	area, u, ok := NewLeftover(fit).At(broad)
	require.True(t, ok)
	assert.InDelta(t, broad.Area, area, 0.1*broad.Area)
	narrow := broad
	narrow.FWHM = 0
	of, narrowU, _ := NewLeftover(fit).At(narrow)
	assert.Less(t, of, 0.3*broad.Area)
	assert.Greater(t, area/u, of/narrowU)
}

// Texture and few grains move area from line to line, and leave the whole; a phase that is missing does not.
func TestAccountsForAll(t *testing.T) {
	for _, c := range []struct {
		name           string
		share, balance float64
		want           bool
	}{
		{"nearly all of each peak", 0.93, 0.93, true},
		{"nine tenths of each, but as much in all", 0.85, 0.98, true},
		{"a tenth lacks in all", 0.85, 0.9, false},
		{"half of each peak", 0.5, 1, false},
	} {
		assert.Equal(t, c.want, Coverage{Share: c.share, Balance: c.balance}.accountsForAll(), c.name)
	}
}

// Peaks that were found too large by a fifth each, as where lines are dense, are explained where the fit leaves nothing of them and its background
// cannot bend under them; where it could, nobody knows.
func TestWhatAFitLeavesNothingOf(t *testing.T) {
	out := run(t, specimen{parts: []part{{"corundum", 400, 0}, {"rutile", 300, 0}}, seed: 31}.job(t, library.Starter()))
	require.Equal(t, result.Complete, out.Coverage.Verdict)
	found := slices.Clone(out.found)
	for i := range found {
		found[i].Area *= 1.2
	}
	got := Judge(out.Fit, found)
	assert.Equal(t, result.Complete, got.Verdict)
	assert.Greater(t, got.Share, 0.95)
	bending := *out.Fit
	bending.Knots = 2000
	got = Judge(&bending, found)
	assert.Equal(t, result.Partial, got.Verdict)
	assert.Less(t, got.Share, 0.9)
}

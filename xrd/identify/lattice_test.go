package identify

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// TestDarkPlaces: of a body-centred cell of 3.147 Å (molybdenum) the lines 100, 111 and 210 are forbidden, where sylvite has 200, 222 and 420 of
// twice the cell. Places between them, lines of its own, other crystal systems and phases that were asked for count for nothing.
func TestDarkPlaces(t *testing.T) {
	r := radiation(t, "Cu")
	at := func(n float64) float64 { // of (a/d)²
		angle, ok := xrd.TwoTheta(3.147/math.Sqrt(n), r.KAlpha1)
		require.True(t, ok)
		return angle
	}
	beam := refdata.Beam{Radiation: r, MaxTwoTheta: 120}
	moly := Match{Phase: phaseOf(t, "molybdenum", beam)}
	for _, l := range moly.Phase.Lines {
		moly.Lines = append(moly.Lines, pattern.LineFit{TwoTheta: l.TwoTheta, FWHM: 0.1})
	}
	s := &search{fit: &pattern.Fit{Setup: pattern.Setup{Radiation: r, Instrument: xrd.DefaultInstrument()}}}
	assert.Equal(t, 3, s.darkPlaces(&moly, []float64{at(1), at(3), at(5)}))
	assert.Zero(t, s.darkPlaces(&moly, []float64{at(1.5), at(2.3), at(3.1)}), "between")
	assert.Zero(t, s.darkPlaces(&moly, []float64{at(2), at(4), at(6)}), "its own")
	assert.Equal(t, 2, s.darkPlaces(&moly, []float64{at(3. / 4), at(11. / 4), at(1.3)}), "111 and 311 of twice the cell")
	assert.Zero(t, s.darkPlaces(&moly, []float64{at(3. / 4), at(3. / 4)}), "one place, seen twice")
	assert.Zero(t, s.darkPlaces(&moly, []float64{at(3. / 4), at(5. / 4)}), "not both odd")
	assert.Zero(t, s.darkPlaces(&moly, []float64{at(13), 0, 180}), "too far, or no angle")
	asked, hexagonal := moly, moly
	asked.Required, hexagonal.Phase.System = true, refdata.Hexagonal
	assert.Zero(t, s.darkPlaces(&asked, []float64{at(1)}))
	assert.Zero(t, s.darkPlaces(&hexagonal, []float64{at(1)}))
}

// TestForbiddenPlacesSpeakAgainstACell: a metal that takes the lines which it shares with a phase of its cell, or of twice that, is no firm name while the
// others are left; where it is itself there, and where something else is missing, it stays firm.
func TestForbiddenPlacesSpeakAgainstACell(t *testing.T) {
	for seed, c := range xrdtest.Some(t, []struct {
		why     string
		missing string
		parts   []part
		id      string
		want    result.Evidence
	}{
		{"sylvite has the lines of molybdenum", "sylvite", []part{{"sylvite", 300, 0}, {"corundum", 400, 0}, {"bunsenite", 500, 0}}, "molybdenum", result.Tentative},
		{"molybdenum is there", "", []part{{"molybdenum", 300, 0}, {"corundum", 400, 0}}, "molybdenum", result.Established},
		{"something else is missing", "calcite", []part{{"molybdenum", 300, 0}, {"calcite", 60, 0}, {"corundum", 400, 0}}, "molybdenum", result.Established},
	}, 3) {
		job := specimen{parts: c.parts, seed: uint64(500 + seed)}.job(t, library.Starter())
		if c.missing != "" {
			job.Filter.Exclude = []string{c.missing}
		}
		out := run(t, job)
		level, named := evidenceLevels(out)[c.id]
		if c.want == result.Tentative && !named {
			continue // nothing stands in
		}
		assert.Equal(t, c.want, level, c.why)
	}
}

// TestUnaccountedSeesTheResidual: what the fit leaves of a phase that is missing is not accounted for, found as left peaks or not; where everything is there,
// nothing is.
func TestUnaccountedSeesTheResidual(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}, {"tin-beta", 150, 0}}, seed: 91}.job(t, library.Starter())
	asked := func(f Filter) []float64 {
		job.Filter = f
		out := run(t, job)
		s, _ := newSearch(job)
		s.fit, s.matches = out.Fit, out.Matches
		return s.unaccounted()
	}
	assert.Greater(t, len(asked(Filter{Elements: set(29), Strict: true})), 5)
	assert.Empty(t, asked(Filter{}))
	s, _ := newSearch(job)
	assert.Empty(t, s.unaccounted(), "nothing was fitted")
}

package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata/library"
	"phasetally/xrd/pattern"
)

// The phase that the stated elements shut out is the one that would explain what is left, and its element is named.
func TestRestNamesTheMissingElement(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}, {"tin-beta", 150, 0}}, seed: 91}.job(t, library.Starter())
	job.Filter = Filter{Elements: set(29), Strict: true}
	out := run(t, job)
	require.NotNil(t, out.Rest)
	assert.Equal(t, "tin-beta", out.Rest.ID)
	assert.Equal(t, []string{"Sn"}, out.Rest.NotAllowed)
	assert.Greater(t, out.Rest.Peaks, out.Rest.Of/2)
	assert.Equal(t, len(out.Coverage.Left), out.Rest.Of)
}

func TestRestOfNothing(t *testing.T) {
	assert.Nil(t, run(t, specimen{parts: []part{{"copper", 300, 0}}, seed: 92}.job(t, library.Starter())).Rest, "all is explained")
	job := specimen{parts: []part{{"copper", 300, 0}, {"tin-beta", 150, 0}}, seed: 91}.job(t, library.Starter())
	job.Filter = Filter{Elements: set(29), Strict: true}
	job.Collection = library.FromRecords("no tin", "", nil)
	assert.Nil(t, run(t, job).Rest, "nothing explains it")
}

// Only peaks that are left count, each once.
func TestRestCounts(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}, {"tin-beta", 150, 0}, {"nickel", 40, 0}}, seed: 93}.job(t, library.Starter())
	s, _ := newSearch(job)
	tin, _ := library.Starter().Find("tin-beta")
	strong := library.Starter().Entry(tin).Strong
	var left []LeftPeak
	for k, p := range s.found {
		left = append(left, LeftPeak{Peak: k, TwoTheta: p.TwoTheta, Area: p.Area})
	}
	all := s.peakPlaces(left).count(strong, 0)
	assert.Greater(t, all, 5)
	assert.Less(t, all, len(left), "those of copper are not its own")
	assert.Equal(t, all, s.peakPlaces(left).count(append(strong, strong...), 0), "each once")
	assert.Zero(t, s.peakPlaces(nil).count(strong, 0), "none is left")
}

// What lacks in lines of a phase that is there asks for no other phase of its type.
func TestHasLineAt(t *testing.T) {
	p := peaks.Peak{TwoTheta: 50, Area: 100, FWHM: 0.1, Kind: peaks.KAlpha}
	has := func(l pattern.LineFit) bool { return hasLineAt([]Match{{}, {Lines: []pattern.LineFit{l}}}, p) }
	line := pattern.LineFit{TwoTheta: 50.02, FWHM: 0.1, Fitted: 50, Covered: true}
	assert.True(t, has(line))
	weak, away, outside := line, line, line
	weak.Fitted, away.TwoTheta, outside.Covered = 5, 50.3, false
	assert.False(t, has(weak), "next to nothing is put there")
	assert.False(t, has(away))
	assert.False(t, has(outside), "the scan does not show it")
	assert.False(t, hasLineAt(nil, p))
}

// TestRestElement: copper, tin and their compound Cu3Sn, of which only copper may be named: tin is the one element that explains the rest, by two phases.
// Where no elements were stated, where one phase explains as much, and where nothing is left, there is none.
func TestRestElement(t *testing.T) {
	made := specimen{parts: []part{{"copper", 300, 0}, {"tin-beta", 150, 0}, {"cu3sn-epsilon", 200, 0}}, seed: 94}
	job := made.job(t, library.Starter())
	job.Filter = Filter{Elements: set(29), Strict: true}
	out := run(t, job)
	require.NotNil(t, out.RestElement)
	assert.Equal(t, "Sn", out.RestElement.Symbol)
	assert.Len(t, out.RestElement.Phases, 2)
	assert.Contains(t, out.RestElement.Phases, "Cu3Sn (ε)")
	assert.Nil(t, out.Rest, "no one phase explains half of it")
	assert.Greater(t, out.RestElement.Peaks, out.RestElement.Of/2)
	assert.LessOrEqual(t, out.RestElement.Peaks, out.RestElement.Of)

	alone := specimen{parts: []part{{"copper", 300, 0}, {"tin-beta", 150, 0}}, seed: 91}.job(t, library.Starter())
	alone.Filter = job.Filter
	assert.Nil(t, run(t, alone).RestElement, "one phase explains it")
	job.Filter = Filter{Elements: set(29, 50), Strict: true}
	assert.Nil(t, run(t, job).RestElement, "all is explained")
	s, _ := newSearch(Job{Setup: job.Setup, Beam: job.Beam, Collection: job.Collection})
	var left []LeftPeak
	for k, p := range s.found {
		left = append(left, LeftPeak{Peak: k, TwoTheta: p.TwoTheta, Area: p.Area})
	}
	assert.Nil(t, s.restElement(left, 0), "no elements were stated")
}

package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
func TestRestIsNotOfLinesOfAMatch(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}}, seed: 94}.job(t, library.Starter())
	s, _ := newSearch(job)
	var own Match
	own.Index = -1
	for k, p := range s.found {
		s.coverage.Left = append(s.coverage.Left, LeftPeak{Peak: k, TwoTheta: p.TwoTheta, Area: p.Area})
		own.Lines = append(own.Lines, pattern.LineFit{TwoTheta: p.TwoTheta, FWHM: p.FWHM, Fitted: p.Area / 2, Covered: true})
	}
	require.NotNil(t, s.rest(), "nobody has them")
	s.matches = []Match{own}
	assert.Nil(t, s.rest())
	for i := range own.Lines {
		own.Lines[i].Fitted /= 10
	}
	assert.NotNil(t, s.rest(), "next to nothing is put there")
}

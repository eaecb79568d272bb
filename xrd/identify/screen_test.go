package identify

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/xrdtest"
)

// crowd is a collection of invented phases followed by those of a library, in memory.
type crowd struct {
	entries []refdata.Entry
	lib     *library.Library
}

func newCrowd(n int, lib *library.Library) crowd {
	c := crowd{lib: lib}
	for r := range xrdtest.Synthetic(11, n) {
		c.entries = append(c.entries, refdata.Entry{ID: r.ID, Strong: r.Strong, Soluble: r.Soluble})
	}
	return c
}

func (c crowd) Len() int { return len(c.entries) + c.lib.Len() }
func (c crowd) Entry(i int) refdata.Entry {
	if i < len(c.entries) {
		return c.entries[i]
	}
	return c.lib.Entry(i - len(c.entries))
}

// Phase computes the real phases only: invented ones are never asked for by screening.
func (c crowd) Phase(i int, b refdata.Beam) (refdata.Phase, error) {
	return c.lib.Phase(i-len(c.entries), b)
}

// crowded returns a search over a crowd for the bushing, with its first view.
func crowded(t testing.TB, n int) (*search, *view) {
	t.Helper()
	lib := library.Starter()
	job := bushing.job(t, lib)
	c := newCrowd(n, lib)
	job.Collection = c
	s := &search{job: job, threshold: Threshold(c.Len()), refused: map[int]bool{}, background: firstLook(job.Setup)}
	s.ruler = newRuler(job.Setup.TwoTheta, job.Setup.Radiation.KAlpha1, job.Setup.Instrument)
	for i := range c.Len() {
		s.entries = append(s.entries, i)
	}
	residual, variance := s.unexplained()
	return s, s.view(newMatchedFilter(job.Setup.TwoTheta, residual, variance, job.Setup.Radiation, job.Setup.Instrument))
}

// TestSieveLosesNothing compares the short way with trying every phase: the lists must be the same, but for phases whose
// gain is a hair from the bar.
func TestSieveLosesNothing(t *testing.T) {
	s, v := crowded(t, 6000)
	every := make([]int, len(s.entries))
	for n := range every {
		every[n] = n
	}
	want := s.best(nil, s.trials(v, every))
	got := s.screen(v)
	require.Len(t, got, shortlist)
	var lost []int
	for k, c := range want {
		if !slices.ContainsFunc(got, func(g candidate) bool { return g.index == c.index }) {
			lost = append(lost, k)
		}
	}
	assert.LessOrEqual(t, len(lost), 1, "lost of the best %d: places %v", shortlist, lost)
	for k, c := range want[:3] {
		assert.Equal(t, c, got[k])
	}
}

func TestScreeningDoesNotDependOnWorkers(t *testing.T) {
	s, v := crowded(t, 3000)
	s.job.Workers = 1
	one := s.screen(v)
	s.job.Workers = 3
	assert.Equal(t, one, s.screen(v))
}

// The true phases are found among many.
func TestScreenFindsTheHidden(t *testing.T) {
	s, v := crowded(t, 20000)
	list := s.screen(v)
	var ids []string
	for _, c := range list {
		ids = append(ids, s.job.Collection.Entry(c.index).ID)
	}
	assert.Contains(t, ids, "copper")
}

func TestSieveRefusesPhasesWithoutLinesInRange(t *testing.T) {
	s, v := crowded(t, 1)
	sv := newSieve(s.ruler, v.tables, narrowReach)
	assert.Zero(t, sv.promise(nil, 20))
	assert.Zero(t, sv.promise([]refdata.StrongLine{{D: 0.4, Intensity: 100}, {D: 900, Intensity: 50}}, 20))
}

func TestWidenIsAMaximum(t *testing.T) {
	h := make([]hole, 60)
	h[30] = hole{5, 2}
	h[33] = hole{7, 3}
	for reach := 1; reach < 12; reach++ {
		got := widen(h, reach)
		for k := range h {
			var want hole
			for j := max(0, k-reach); j <= min(len(h)-1, k+reach); j++ {
				want = want.or(h[j])
			}
			if k >= reach && k < len(h)-reach {
				assert.Equal(t, want, got[k], "reach %d at %d", reach, k)
			}
		}
	}
}

func BenchmarkScreen(b *testing.B) {
	for _, n := range []int{1000, 10000, 100000} {
		b.Run(map[int]string{1000: "1e3", 10000: "1e4", 100000: "1e5"}[n], func(b *testing.B) {
			s, v := crowded(b, n)
			for b.Loop() {
				s.screen(v)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(s.entries)), "ns/phase")
		})
	}
}

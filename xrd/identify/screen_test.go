package identify

import (
	"fmt"
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
		s.admit(i, c.Entry(i))
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
	sv := newSieve(s.ruler, v.tables, narrowReach, 20)
	w := newWeights(s.ruler, v.tables, reachMarks(narrowReach))
	for _, lines := range [][]refdata.StrongLine{nil, {{D: 0.4, Intensity: 100}, {D: 900, Intensity: 50}}} {
		assert.Zero(t, w.of(lines))
		assert.Zero(t, sv.promise(lines, w.of(lines)))
	}
}

// What the sieve promises is never less than what the phase gains, but for the lines that trials join.
func TestSievePromisesEnough(t *testing.T) {
	s, v := crowded(t, 4000)
	bar := s.threshold * s.threshold
	s.weigh(v)
	sieves := [2]sieve{newSieve(s.ruler, v.tables, narrowReach, bar), newSieve(s.ruler, v.tables, wideReach, bar)}
	every := make([]int, len(s.entries))
	for n := range every {
		every[n] = n
	}
	broken, gaining := 0, 0
	for n, c := range s.trials(v, every) {
		e := &s.entries[n]
		if c.gain < 1.5*bar {
			continue
		}
		gaining++
		promise := e.of(&sieves).promise(e.strong, s.weights[n])
		fine := e.of(&sieves).gain(e.strong, s.weights[n], bar)
		if promise < c.gain || fine < c.gain {
			broken++
		}
	}
	t.Log(gaining, "gain,", broken, "promise less")
	assert.Greater(t, gaining, 100)
	assert.LessOrEqual(t, broken, gaining/50)
}

// The bytes of a word count like numbers of their own: the sums of repays against plain arithmetic.
func TestRepaysLikePlainNumbers(t *testing.T) {
	s, v := crowded(t, 500)
	bar := 4 * s.threshold * s.threshold
	sv := newSieve(s.ruler, v.tables, narrowReach, bar)
	sheet := &sv.fine[0]
	both := [2]int{}
	for _, e := range s.entries {
		for _, most := range []float32{0.01, 0.1, 1} {
			got := sheet.repays(e.strong, most)
			for b := range bands {
				sum := 0
				for _, l := range e.strong {
					k := sheet.place(l.D)
					if k >= uint32(len(sheet.steps)) || sheet.steps[k].u == 0 {
						continue
					}
					x := most * l.Intensity / sheet.steps[k].u
					sum = min(127, sum+min(int(min(127, x*x/sheet.unit+1)), int(sheet.steps[k].gains>>(8*b)&0xff)))
				}
				want := sum >= fullGain
				require.Equal(t, want, got>>(8*b)&0x80 != 0, "band %d of %d", b, e.index)
				if want {
					both[0]++
				} else {
					both[1]++
				}
			}
		}
	}
	assert.Greater(t, both[0], 100)
	assert.Greater(t, both[1], 100)
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
	sizes := []int{1000, 10000, 100000}
	if !testing.Short() {
		sizes = append(sizes, 500000)
	}
	for _, n := range sizes {
		b.Run(fmt.Sprintf("%.0e", float64(n)), func(b *testing.B) {
			s, v := crowded(b, n)
			for b.Loop() {
				s.screen(v)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(s.entries)), "ns/phase")
		})
	}
}

package identify

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/xrdtest"
)

// crowd is a collection of invented phases followed by those of a library, in memory.
type crowd struct {
	entries []refdata.Entry
	lib     *library.Library
}

// newCrowd keeps the lines of all side by side, as a built file does.
func newCrowd(n int, lib *library.Library) crowd {
	c := crowd{lib: lib}
	var lines []refdata.StrongLine
	for r := range xrdtest.Synthetic(11, n) {
		c.entries = append(c.entries, refdata.Entry{ID: r.ID, Strong: r.Strong, Soluble: r.Soluble})
		lines = append(lines, r.Strong...)
	}
	for i := range c.entries {
		k := len(c.entries[i].Strong)
		c.entries[i].Strong, lines = lines[:k:k], lines[k:]
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
	return crowdedBy(t, n, bushing)
}

func crowdedBy(t testing.TB, n int, what specimen) (*search, *view) {
	t.Helper()
	lib := library.Starter()
	job := what.job(t, lib)
	c := newCrowd(n, lib)
	job.Collection = c
	s := &search{job: job, threshold: Threshold(c.Len()), refused: map[int]bool{}, background: firstLook(job.Setup)}
	s.ruler = newRuler(job.Setup.TwoTheta, job.Setup.Radiation.KAlpha1, job.Setup.Instrument)
	for i := range c.Len() {
		s.admit(i, c.Entry(i))
	}
	return s, s.now(nil)
}

// now returns the view of what is left, with the lines of a member of the fit put back.
func (s *search) now(member *int) *view {
	residual, variance := s.unexplained()
	if member != nil {
		for i, c := range s.fit.Curves[*member] {
			residual[i] += c
		}
	}
	return s.view(newMatchedFilter(s.job.Setup.TwoTheta, residual, variance, s.job.Setup.Radiation, s.instrument()))
}

// take explains the scan with phases of the library behind a crowd.
func (s *search) take(t testing.TB, ids ...string) {
	t.Helper()
	c := s.job.Collection.(crowd)
	s.members, s.fit = nil, nil
	for _, id := range ids {
		i, ok := c.lib.Find(id)
		require.True(t, ok, id)
		p, err := c.lib.Phase(i, s.job.Beam)
		require.NoError(t, err)
		s.members = append(s.members, Member{Index: i + len(c.entries), Phase: p})
	}
	var err error
	s.fit, err = pattern.Run(context.Background(), s.setup(s.members, nil, nil), pattern.Quick)
	require.NoError(t, err)
}

// A scene is a moment of a search.
type scene struct {
	name string
	*search
	*view
	all []sounding // of every entry
}

// scenes are those of a search as it goes on, of what could stand in place of a member, and of scans whose strongest lines lie
// near their ends.
func scenes(t *testing.T, n int) (list []scene) {
	t.Helper()
	add := func(name string, s *search, v *view) {
		copied := *s
		every := make([]int, len(s.entries))
		for n := range every {
			every[n] = n
		}
		list = append(list, scene{name, &copied, v, s.trials(v, every)})
	}
	s, v := crowded(t, n)
	add("at first", s, v)
	ids := []string{"copper", "cu3sn-epsilon", "cuprite"}
	for k, id := range ids {
		s.take(t, ids[:k+1]...)
		add("after "+id, s, s.now(nil))
		add("in place of "+id, s, s.now(&k))
	}
	for _, short := range []specimen{{parts: bushing.parts, lo: 42, hi: 44.5, displacement: 0.3, seed: 8}, {parts: bushing.parts, lo: 43.2, hi: 51, displacement: -0.3, seed: 9},
		{parts: bushing.parts, radiation: "Mo", lo: 10, hi: 60, seed: 10}} {
		s, v := crowdedBy(t, n, short)
		add(fmt.Sprintf("%g–%g°", short.lo, short.hi), s, v)
	}
	return list
}

// TestScreenLosesNothing compares the short way with trying every phase: the lists must be the same.
func TestScreenLosesNothing(t *testing.T) {
	for _, n := range []int{600, 2500, 6000} { // strides that end at once and in several steps
		for _, sc := range scenes(t, n) {
			want := sc.best(nil, slices.Clone(sc.all))
			want = slices.DeleteFunc(want, func(w sounding) bool { return w.gain < sc.view.barOf(nil) })
			for range 2 { // the second time knows the best of the first
				got := sc.screen(sc.view)
				got = slices.DeleteFunc(got, func(c candidate) bool { return c.gain < sc.view.barOf(nil) })
				require.Len(t, got, len(want), "%s, %d", sc.name, n)
				for k, w := range want {
					assert.Equal(t, sc.entries[w.n].index, got[k].index, "%s, %d: place %d", sc.name, n, k)
					assert.Equal(t, w.trial, got[k].trial)
				}
			}
		}
	}
}

// No phase fails the sieve that gains the bar, wherever the bar is; most others do.
func TestSieveLosesNothing(t *testing.T) {
	for _, sc := range scenes(t, 4000) {
		sorted := slices.Clone(sc.all)
		sorted = sc.best(nil, sorted)
		sieves := newSieves(sc.ruler, sc.tables)
		for bar := sc.view.barOf(nil); ; bar = min(4*bar, sorted[len(sorted)-1].gain) {
			sieves.raise(bar)
			gaining, passing := 0, 0
			for n, trial := range sc.all {
				e := &sc.entries[n]
				passes := sieves.of[e.kind()].passes(e.strong)
				if trial.gain >= bar {
					gaining++
					assert.True(t, passes, "%s: %d gains %g, the bar is %g", sc.name, n, trial.gain, bar)
				}
				if passes {
					passing++
				}
			}
			if len(sorted) == shortlist && bar >= sorted[shortlist-1].gain {
				assert.Less(t, passing, len(sc.all)/3, "%s: the sieve holds little back: %d gain, %d pass", sc.name, gaining, passing)
			}
			if bar >= sorted[len(sorted)-1].gain {
				break
			}
		}
	}
}

// A bar that a phase gains lets it pass, also where its lines lie close together, are partly absent or stand on those of others.
func TestSievePassesWhatGains(t *testing.T) {
	r := newRuler([]float64{20, 60, 100}, 1.5405929, xrd.DefaultInstrument())
	rnd := rand.New(rand.NewPCG(5, 6))
	gaining := 0
	for n := range 1500 {
		var lines []refdata.StrongLine
		for range 2 + rnd.IntN(11) {
			d := 1.05 + 3*rnd.Float64()
			if len(lines) > 0 && rnd.IntN(2) == 0 { // a scan cannot separate the two
				d = float64(lines[len(lines)-1].D) * (1 + 0.001*rnd.Float64())
			}
			lines = append(lines, refdata.StrongLine{D: float32(d), Intensity: float32(100 * math.Pow(rnd.Float64(), 1+float64(n%3)))})
		}
		made := table{area: make([]float32, r.marks), u: make([]float32, r.marks), root: make([]float32, r.marks+2*margin)}
		for k := range made.u {
			made.u[k] = 1
		}
		shift, scale := rnd.IntN(60)-30, 5*math.Exp(3*rnd.Float64())
		for _, l := range r.strongSticks(lines, nil) {
			area := scale * l.intensity * (0.6 + 0.8*rnd.Float64())
			switch rnd.IntN(6) {
			case 0:
				area = 0
			case 1:
				area *= 5
			}
			for k := -12; k <= 12; k++ {
				if m := l.mark + shift + k; m >= 0 && m < r.marks {
					made.area[m] += float32(area * math.Exp(-float64(k*k)/8))
				}
			}
		}
		for k, a := range made.area {
			made.root[k+margin] = float32(math.Sqrt(float64(a)))
		}
		got := bestTrial([]table{made}, r.strongSticks(lines, nil), narrowReach, 0, stretchSigma(false))
		if !(got.gain > 1) {
			continue
		}
		gaining++
		sieves := newSieves(r, []table{made})
		sieves.raise(got.gain)
		require.True(t, sieves.of[0].passes(lines), "%d gains %g: %v", n, got.gain, lines)
	}
	assert.Greater(t, gaining, 1000)
}

func TestScreeningDoesNotDependOnWorkers(t *testing.T) {
	s, v := crowded(t, 3000)
	s.job.Workers = 1
	one := s.screen(v)
	s.job.Workers, s.seen = 3, nil
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
	sieves := newSieves(s.ruler, v.tables)
	sieves.raise(20)
	for _, lines := range [][]refdata.StrongLine{nil, {{D: 0.4, Intensity: 100}, {D: 900, Intensity: 50}}} {
		assert.False(t, sieves.of[0].passes(lines))
		assert.False(t, sieves.of[1].passes(lines))
	}
}

// The bytes of a word count like numbers of their own: what repays and allows find, against plain arithmetic.
func TestBytesLikePlainNumbers(t *testing.T) {
	s, v := crowded(t, 500)
	sieves := newSieves(s.ruler, v.tables)
	sieves.raise(4 * s.threshold * s.threshold)
	sv := &sieves.of[0]
	sheet := &sv.sheets[0]
	repaid, allowed := [2]int{}, [2]int{}
	for _, e := range s.entries {
		spots, least := sv.spots(e.strong, nil)
		promises := sv.promises(sheet, e.strong)
		for rung := range 3 {
			times, scale := float32(int(2)<<rung), least*float32(math.Pow(2, float64(rung)))
			repays, allows := sheet.repays(spots, times), sv.allows(sheet, spots, scale)
			for b := range bands {
				byteOf := func(w uint64) int { return int(w >> (8 * b) & 0xff) }
				sum, most, absent := 0, 0, 0
				for _, l := range spots {
					gain := byteOf(sheet.gains[l.step])
					most += gain
					sum += min(int(min(127, times*l.gain+1)), gain)
					if byteOf(sheet.levels[l.step]) < int(level((1-lineTolerance)*scale*l.intensity, sv.base)) {
						absent += int(l.share)
					}
				}
				require.Equal(t, most >= fullGain, byteOf(promises) == 0x80, "band %d of %d", b, e.index)
				require.Equal(t, sum >= fullGain, byteOf(repays) == 0x80, "band %d of %d", b, e.index)
				if allows != 0 { // it may stop early
					require.Equal(t, absent <= absentShare, byteOf(allows) == 0x80, "band %d of %d", b, e.index)
				} else {
					require.Greater(t, absent, absentShare)
				}
				repaid[byteOf(repays)>>7]++
				allowed[byteOf(allows)>>7]++
			}
		}
	}
	for _, n := range slices.Concat(repaid[:], allowed[:]) {
		assert.Greater(t, n, 100)
	}
}

func TestWidenIsAMaximum(t *testing.T) {
	h := slices.Repeat([]hole{outside}, 60)
	h[30] = hole{5, 9, 2}
	h[31] = hole{4, 12, 1}
	h[34] = hole{7, 8, 3}
	for reach := 1; reach < 12; reach++ {
		got := widen(h, reach)
		for k := reach; k < len(h)-reach; k++ {
			want := h[k]
			for j := k - reach; j <= k+reach; j++ {
				want = want.or(h[j])
			}
			assert.Equal(t, want, got[k], "reach %d at %d", reach, k)
		}
	}
	assert.Equal(t, hole{5, outside.top, 2}, h[29].or(h[30]), "what may lie outside is not held against a line")
}

func TestOverlapsSumOverLines(t *testing.T) {
	s, v := crowded(t, 20)
	for _, e := range s.entries[:20] {
		lines := s.ruler.strongSticks(e.strong, nil)
		sums := make([]float32, 2*mostMarks/stretchMarks+1)
		for _, table := range v.tables[:2] {
			table.overlaps(lines, -mostMarks, stretchMarks, sums)
			for k, got := range sums {
				var want float64
				for _, l := range lines {
					if m := l.mark - mostMarks + k*stretchMarks; m >= 0 && m < len(table.u) && table.area[m] > 0 {
						want += float64(l.root) * math.Sqrt(float64(table.area[m]/table.u[m]))
					}
				}
				require.InDelta(t, want, got, 1e-4*(1+want))
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
				s.seen = nil // as in a first screening
				s.screen(v)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(s.entries)), "ns/phase")
		})
	}
}

package screen

import (
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
)

// crowded returns a screen of a crowd for the bushing, with its first view.
func crowded(t testing.TB, n int) (*Screen, *View) {
	t.Helper()
	sim := simulate(t, bushing)
	entries, _ := crowd(n)
	s := New(entries, sim.scan, sim.ins)
	return s, s.View(sim.residual())
}

// least is the gain that is asked for, of five standard uncertainties.
const least = 25

// few is a list of usual length.
var few = query{least, 24, none}

// A scene is a moment of a search.
type scene struct {
	name string
	*Screen
	*View
	all []ranked // of every entry
}

// scenes are those of a search as it goes on, of what could stand in place of a phase, and of scans whose strongest lines lie
// near their ends.
func scenes(t *testing.T, n int) (list []scene) {
	t.Helper()
	entries, _ := crowd(n)
	add := func(name string, sim simulated, r Residual) {
		s := New(entries, sim.scan, sim.ins)
		v := s.View(r)
		every := make([]int, len(entries))
		for n := range every {
			every[n] = n
		}
		list = append(list, scene{name, s, v, v.trials(few, every)})
	}
	sim := simulate(t, bushing)
	add("at first", sim, sim.residual())
	add("after copper", sim, sim.residual(0))
	add("after two", sim, sim.residual(0, 1))
	add("in place of copper", sim, sim.residual(1))
	add("in place of cuprite", sim, sim.residual(0, 1))
	add("after all", sim, sim.residual(0, 1, 2))
	for _, short := range []specimen{{radiation: "Cu", lo: 42, hi: 44.5, displacement: 0.3, seed: 8}, {radiation: "Cu", lo: 43.2, hi: 51, displacement: -0.3, seed: 9},
		{radiation: "Mo", lo: 10, hi: 60, seed: 10}} {
		short.parts = bushing.parts
		sim := simulate(t, short)
		add(fmt.Sprintf("%g–%g°", short.lo, short.hi), sim, sim.residual())
	}
	return list
}

// TestScreenLosesNothing compares the short way with trying every phase: the lists must be the same.
func TestScreenLosesNothing(t *testing.T) {
	for _, n := range []int{600, 2500, 6000} { // strides that end at once and in several steps
		for _, sc := range scenes(t, n) {
			want := few.merge(nil, slices.Clone(sc.all))
			want = slices.DeleteFunc(want, func(w ranked) bool { return w.Gain < least })
			for range 2 { // the second time knows the best of the first
				got := sc.Best(sc.View, least, few.n, none)
				got = slices.DeleteFunc(got, func(c Candidate) bool { return c.Gain < least })
				require.Len(t, got, len(want), "%s, %d", sc.name, n)
				for k, w := range want {
					assert.Equal(t, sc.entries[w.n].Index, got[k].Index, "%s, %d: place %d", sc.name, n, k)
					assert.Equal(t, w.Trial, got[k].Trial)
				}
			}
		}
	}
}

// No phase fails the bound that gains enough, however much that is; most others do.
func TestBoundLosesNothing(t *testing.T) {
	for _, sc := range scenes(t, 4000) {
		sorted := few.merge(nil, slices.Clone(sc.all))
		if sorted[0].Gain < least {
			continue
		}
		bounds := newBounds(sc.Screen.grid, sc.tables)
		for enough := 25.0; ; enough = min(4*enough, max(enough, sorted[len(sorted)-1].Gain)) {
			bounds.ask(enough)
			gaining, passing := 0, 0
			for n, trial := range sc.all {
				e := &sc.entries[n]
				mayGain := bounds.of[e.kind()].mayGain(e.Strong)
				if trial.Gain >= enough {
					gaining++
					assert.True(t, mayGain, "%s: %d gains %g, %g is asked for", sc.name, n, trial.Gain, enough)
				}
				if mayGain {
					passing++
				}
			}
			if len(sorted) == few.n && enough >= sorted[few.n-1].Gain {
				assert.Less(t, passing, len(sc.all)/3, "%s: the bound leaves little out: %d gain, %d pass", sc.name, gaining, passing)
			}
			if enough >= sorted[len(sorted)-1].Gain {
				break
			}
		}
	}
}

// What a phase gains lets it pass, also where its lines lie close together, are partly absent or stand on those of others.
func TestBoundPassesWhatGains(t *testing.T) {
	r := newGrid([]float64{20, 60, 100}, 1.5405929, xrd.DefaultInstrument())
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
		made := table{area: make([]float32, r.bins), u: make([]float32, r.bins), root: make([]float32, r.bins+2*margin)}
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
				if m := l.bin + shift + k; m >= 0 && m < r.bins {
					made.area[m] += float32(area * math.Exp(-float64(k*k)/8))
				}
			}
		}
		for k, a := range made.area {
			made.root[k+margin] = float32(math.Sqrt(float64(a)))
		}
		got := bestTrial([]table{made}, r.strongSticks(lines, nil), NarrowReach, 0, CellSigma(false))
		if !(got.Gain > 1) {
			continue
		}
		gaining++
		bounds := newBounds(r, []table{made})
		bounds.ask(got.Gain)
		require.True(t, bounds.of[0].mayGain(lines), "%d gains %g: %v", n, got.Gain, lines)
	}
	assert.Greater(t, gaining, 1000)
}

func TestScreeningDoesNotDependOnWorkers(t *testing.T) {
	s, v := crowded(t, 3000)
	s.scan.Workers = 1
	one := s.Best(v, least, 24, none)
	s.scan.Workers, s.seen = 3, nil
	assert.Equal(t, one, s.Best(v, least, 24, none))
}

// The true phases are found among many.
func TestBestFindsTheHidden(t *testing.T) {
	s, v := crowded(t, 20000)
	copper, _ := library.Starter().Find("copper")
	found := func(list []Candidate) bool {
		return slices.ContainsFunc(list, func(c Candidate) bool { return c.Index == 20000+copper })
	}
	assert.True(t, found(s.Best(v, least, 24, none)))
	assert.False(t, found(s.Best(v, least, 24, func(index int) bool { return index == 20000+copper })), "what is to be skipped")
	assert.Len(t, s.Best(v, least, 5, none), 5)
}

func TestBoundRefusesPhasesWithoutLinesInRange(t *testing.T) {
	s, v := crowded(t, 1)
	bounds := newBounds(s.grid, v.tables)
	bounds.ask(20)
	for _, lines := range [][]refdata.StrongLine{nil, {{D: 0.4, Intensity: 100}, {D: 900, Intensity: 50}}} {
		assert.False(t, bounds.of[0].mayGain(lines))
		assert.False(t, bounds.of[1].mayGain(lines))
	}
}

// The bytes of a word count like numbers of their own: what repays and allows find, against plain arithmetic.
func TestBytesLikePlainNumbers(t *testing.T) {
	s, v := crowded(t, 500)
	bounds := newBounds(s.grid, v.tables)
	bounds.ask(4 * least)
	sv := &bounds.of[0]
	group := &sv.groups[0]
	repaid, allowed := [2]int{}, [2]int{}
	for _, e := range s.entries {
		weights, first := sv.weights(e.Strong, nil)
		promises := sv.promises(group, e.Strong)
		for doubling := range 3 {
			times, scale := float32(int(2)<<doubling), first*float32(math.Pow(2, float64(doubling)))
			repays, allows := group.repays(weights, times), sv.allows(group, weights, scale)
			for b := range bands {
				byteOf := func(w uint64) int { return int(w >> (8 * b) & 0xff) }
				sum, most, absent := 0, 0, 0
				for _, l := range weights {
					gain := byteOf(group.gains[l.step])
					most += gain
					sum += min(int(min(127, times*l.gain+1)), gain)
					if byteOf(group.levels[l.step]) < int(level((1-lineTolerance)*scale*l.intensity, sv.base)) {
						absent += int(l.share)
					}
				}
				require.Equal(t, most >= fullGain, byteOf(promises) == 0x80, "band %d of %d", b, e.Index)
				require.Equal(t, sum >= fullGain, byteOf(repays) == 0x80, "band %d of %d", b, e.Index)
				if allows != 0 { // it may stop early
					require.Equal(t, absent <= absentShare, byteOf(allows) == 0x80, "band %d of %d", b, e.Index)
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
	h := slices.Repeat([]extreme{outside}, 60)
	h[30] = extreme{5, 9, 2}
	h[31] = extreme{4, 12, 1}
	h[34] = extreme{7, 8, 3}
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
	assert.Equal(t, extreme{5, outside.top, 2}, h[29].or(h[30]), "what may lie outside is not held against a line")
}

func TestOverlapsSumOverLines(t *testing.T) {
	s, v := crowded(t, 20)
	for _, e := range s.entries[:20] {
		lines := s.grid.strongSticks(e.Strong, nil)
		sums := make([]float32, 2*mostBins/stretchBins+1)
		for _, table := range v.tables[:2] {
			table.overlaps(lines, -mostBins, stretchBins, sums)
			for k, got := range sums {
				var want float64
				for _, l := range lines {
					if m := l.bin - mostBins + k*stretchBins; m >= 0 && m < len(table.u) && table.area[m] > 0 {
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
				s.Best(v, least, 24, none)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(s.entries)), "ns/phase")
		})
	}
}

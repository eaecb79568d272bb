package identify

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/xrdtest"
)

// A family is a collection of phases of one type: copper with its cell changed.
type family struct {
	*library.Library
	of     int
	change []float64 // relative
}

func (f family) Len() int { return len(f.change) }

func (f family) Entry(i int) refdata.Entry {
	e := f.Library.Entry(f.of)
	e.ID, e.Name, e.Soluble = fmt.Sprintf("kin-%d", i), "kin", false
	e.Strong = append([]refdata.StrongLine(nil), e.Strong...)
	for k := range e.Strong {
		e.Strong[k].D *= float32(1 + f.change[i])
	}
	return e
}

func (f family) Phase(i int, b refdata.Beam) (refdata.Phase, error) {
	p, err := f.Library.Phase(f.of, b)
	p.ID, p.Name, p.Soluble = fmt.Sprintf("kin-%d", i), "kin", false
	c := *p.Cell
	c.A, c.B, c.C = c.A*(1+f.change[i]), c.B*(1+f.change[i]), c.C*(1+f.change[i])
	p.Cell = &c
	p.Lines = append([]refdata.Line(nil), p.Lines...)
	for k := range p.Lines {
		p.Lines[k].D *= 1 + f.change[i]
	}
	return p, err
}

func kin(t testing.TB, change ...float64) family {
	lib := library.Starter()
	i, ok := lib.Find("copper")
	require.True(t, ok)
	return family{lib, i, change}
}

// TestLucky: of very many phases of one type some has nearly any cell. One that differs by 0.1 % from what is seen is then not
// named; the same phase is where few others could be it, and where its cell is met exactly it is tentative.
func TestLucky(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}}, seed: 4}.job(t, library.Starter())
	few := []float64{0.001, 0.2, -0.2}
	job.Collection = kin(t, few...)
	out := run(t, job)
	require.Len(t, out.Members, 1)
	assert.Equal(t, Established, out.Members[0].Word)
	assert.Zero(t, out.Members[0].Chance)

	many := []float64{0.001}
	for k := range 1500 {
		e := -0.2 + 0.4*float64(k)/1500
		if math.Abs(e) > 0.01 {
			many = append(many, e)
		}
	}
	job.Collection = kin(t, many...)
	assert.Empty(t, run(t, job).Members)
	for _, n := range []int{30, 60} { // of 1000, so that others count as much less; 75 and 150 in a unit of relative change
		some := []float64{0.0005}
		for k := range n {
			if e := -0.2 + 0.4*float64(k)/float64(n); math.Abs(e) > 0.01 {
				some = append(some, e)
			}
		}
		job.Collection = kin(t, some...)
		out := run(t, job)
		require.Len(t, out.Members, 1)
		assert.InEpsilon(t, float64(n)/1000*float64(n)/0.4*2*0.0005, out.Members[0].Chance, 0.5, "%d others", n)
	}
}

// TestNoPatchwork: a phase of many lines that is not in the library is not patched together from others of a large one.
func TestNoPatchwork(t *testing.T) {
	job := specimen{parts: []part{{"copper", 200, 0}, {"cu6sn5-eta-prime", 300, 0}}, seed: 5}.job(t, library.Starter())
	records := slices.Collect(xrdtest.Synthetic(1, 3000))
	for _, r := range refdata.Starter() {
		if r.ID == "copper" {
			records = append(records, r)
		}
	}
	job.Collection = library.FromRecords("", "", records)
	out := run(t, job)
	for _, m := range out.Members {
		assert.Equal(t, "copper", m.Phase.ID)
	}
}

// TestNullChance: 3 decoys of 6 serve. Each stands for 2 phases at 1 of 16 cells; 2 were tried about ±0.8 % and one about
// ±3 %: (2/0.016 + 1/0.06) × 2/16 = 17.7 phases in a unit of relative change. A cell that is off by 0.2 % is as close as 17.7 ×
// 0.004 = 0.0708 others are; one that is off by nothing, as 17.7 × 0.001 are.
func TestNullChance(t *testing.T) {
	did := func(gain, found float64, met int) trial { return trial{gain: gain, found: found, met: met} }
	n := null{decoys: []decoy{{did(90, 0.9, 4), 0.008}, {did(200, 0.8, 5), 0.008}, {did(81, 1, 4), 0.03},
		{did(79, 0.9, 4), 0.008}, {did(500, 0.9, 3), 0.008}, {did(500, 0.7, 9), 0.008}}, each: 2.0 / 16}
	assert.InDelta(t, 0.0708, n.chance(did(100, 0.9, 4), -0.002), 1e-4)
	assert.InDelta(t, 0.0177, n.chance(did(100, 0.9, 4), 0), 1e-4)
	assert.Zero(t, n.chance(did(1000, 0.9, 4), 0.002))
	assert.InDelta(t, 0.7*2/16/0.016*0.004, n.most(0.002, 0.008), 1e-9)
}

// TestNullSample: of a large library a sample is tried, each of which stands for several.
func TestNullSample(t *testing.T) {
	for n, want := range map[int]float64{100: 0.1 / 16, 1500: 1.0 / 16, 1501: 2.0 / 16, 3001: 3.0 / 16} {
		s := &search{entries: make([]entry, n)}
		assert.InDelta(t, want, s.nullOf(&view{}).each, 1e-12, "%d phases", n)
	}
}

// TestDecoyMarks: every cell that is tried is wrong even for phases of wide reach, and lines that leave the ruler are dropped.
func TestDecoyMarks(t *testing.T) {
	seen := map[int]bool{}
	for _, m := range decoyMarks() {
		assert.Greater(t, math.Abs(stretch(m)), wideReach+closest)
		assert.False(t, seen[m])
		seen[m] = true
	}
	assert.Len(t, seen, 2*decoySteps)
	r := ruler{marks: 100}
	assert.Equal(t, []stick{{mark: 99}}, r.moved([]stick{{mark: 89}, {mark: 90}}, 10, nil))
	assert.Equal(t, []stick{{mark: 0}}, r.moved([]stick{{mark: 9}, {mark: 10}}, -10, nil))
}

// Scans of many kinds of phases in a large library: what trying it at wrong cells costs.
func BenchmarkNull(b *testing.B) {
	job := bushing.job(b, library.Starter())
	out, err := Run(context.Background(), job)
	require.NoError(b, err)
	s := &search{job: job, threshold: out.Threshold, fit: out.Fit, members: out.Members}
	s.ruler = newRuler(job.Setup.TwoTheta, job.Setup.Radiation.KAlpha1, job.Setup.Instrument)
	for i := range job.Collection.Len() {
		s.admit(i, job.Collection.Entry(i))
	}
	v := s.without(0)
	for b.Loop() {
		s.nullOf(v)
	}
}

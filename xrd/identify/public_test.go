package identify_test

import (
	"cmp"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// shuffled is the starter collection in another order.
type shuffled struct {
	of    *library.Library
	order []int
}

func (s shuffled) Len() int                  { return len(s.order) }
func (s shuffled) Entry(i int) refdata.Entry { return s.of.Entry(s.order[i]) }
func (s shuffled) Phase(i int, b refdata.Beam) (refdata.Phase, error) {
	return s.of.Phase(s.order[i], b)
}

func without(lib *library.Library, seed uint64, ids ...string) shuffled {
	s := shuffled{of: lib}
	for i := range lib.Len() {
		if !slices.Contains(ids, lib.Entry(i).ID) {
			s.order = append(s.order, i)
		}
	}
	if seed > 0 {
		rnd := rand.New(rand.NewPCG(seed, 1))
		rnd.Shuffle(len(s.order), func(i, j int) { s.order[i], s.order[j] = s.order[j], s.order[i] })
	}
	return s
}

// mixture is a counted scan of phases of the starter collection, by the scales of their strongest lines.
func mixture(t *testing.T, scales map[string]float64) identify.Job {
	t.Helper()
	lib := library.Starter()
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	set := pattern.Setup{Radiation: cu, Instrument: xrd.DefaultInstrument(), Gain: 1}
	for x := 20.0; x <= 100; x += 0.02 {
		set.TwoTheta, set.Intensity, set.Sigma = append(set.TwoTheta, x), append(set.Intensity, 40), append(set.Sigma, 1)
	}
	beam := refdata.Beam{Radiation: cu, MaxTwoTheta: 103}
	for _, id := range slices.Sorted(maps.Keys(scales)) {
		i, ok := lib.Find(id)
		require.True(t, ok, id)
		p, err := lib.Phase(i, beam)
		require.NoError(t, err)
		for k, y := range pattern.Calculate(set, p, scales[id], 0.04, 0) {
			set.Intensity[k] += y
		}
	}
	rnd := rand.New(rand.NewPCG(8, 8))
	for k, y := range set.Intensity {
		set.Intensity[k] = distuv.Poisson{Lambda: y, Src: rnd}.Rand()
		set.Sigma[k] = math.Sqrt(math.Max(1, set.Intensity[k]))
	}
	return identify.Job{Setup: set, Beam: beam, Collection: lib}
}

func explain(t *testing.T, job identify.Job) *identify.Explanation {
	t.Helper()
	out, err := identify.Run(t.Context(), job)
	require.NoError(t, err)
	return out
}

// named are the evidence levels of the phases by their ids.
func named(out *identify.Explanation) map[string]result.Evidence {
	m := map[string]result.Evidence{}
	for _, x := range out.Matches {
		m[x.Phase.ID] = x.Evidence
	}
	return m
}

func elements(symbols ...string) (set refdata.ElementSet) {
	for _, s := range symbols {
		e, _ := element.Lookup(s)
		set = set.With(e.Z)
	}
	return set
}

var oxides = map[string]float64{"corundum": 120, "zincite": 150}

// The order of the reference data changes no name and no level of evidence.
func TestOrderOfReferencesChangesNothing(t *testing.T) {
	job := mixture(t, oxides)
	want := named(explain(t, job))
	require.Equal(t, map[string]result.Evidence{"corundum": result.Established, "zincite": result.Established}, want)
	for seed := uint64(1); seed <= 2; seed++ {
		job.Collection = without(library.Starter(), seed)
		assert.Equal(t, want, named(explain(t, job)), "order %d", seed)
	}
}

// What the filter keeps out is not named, whatever the scan shows; what is asked for is said to be there or not.
func TestFilterIsKept(t *testing.T) {
	job := mixture(t, oxides)
	job.Filter = identify.Filter{Elements: elements("Zn", "O"), Strict: true}
	out := explain(t, job)
	assert.Equal(t, result.Established, named(out)["zincite"])
	for _, m := range out.Matches {
		if !m.Outside {
			for _, c := range m.Phase.Composition {
				assert.Contains(t, []string{"Zn", "O"}, c.Symbol, m.Phase.ID)
			}
		}
	}
	job.Filter = identify.Filter{Exclude: []string{"Corundum"}}
	out = explain(t, job)
	assert.NotContains(t, named(out), "corundum", "case does not matter")
	assert.NotEqual(t, result.Complete, out.Coverage.Verdict, "its peaks are left")
	assert.NotEmpty(t, out.Coverage.Left)

	job.Filter = identify.Filter{Require: []string{"fluorite"}}
	got := named(explain(t, job))
	assert.Equal(t, result.Named, got["fluorite"], "asked for, and not there")
	assert.Contains(t, got, "corundum")
}

// A phase that the reference data lack leaves peaks, and no name that is given for it is established.
func TestMissingReferenceIsSaid(t *testing.T) {
	job := mixture(t, oxides)
	job.Collection = without(library.Starter(), 0, "corundum")
	out := explain(t, job)
	assert.NotEqual(t, result.Complete, out.Coverage.Verdict)
	for id, level := range named(out) {
		assert.True(t, id == "zincite" || level != result.Established, "%s is %s", id, level)
	}
}

// Reasons say what the levels rest on, and never of a phase that is established that lines are missing beyond what may be.
func TestReasonsCarryNumbers(t *testing.T) {
	for _, m := range explain(t, mixture(t, oxides)).Matches {
		seen := map[string]bool{}
		for _, r := range m.Reasons {
			seen[r.Code] = true
			assert.False(t, math.IsNaN(r.Value), r.Code)
			assert.NotContains(t, r.Text, "NaN", r.Code)
			assert.NotContains(t, r.Text, "%!", r.Code)
			assert.Equal(t, strings.TrimSpace(r.Text), r.Text)
		}
		assert.True(t, seen["significance"] && seen["own-lines"], m.Phase.ID)
		assert.False(t, seen["few-lines"] || seen["chance"] || seen["alternative"], "%s: %v", m.Phase.ID, m.Reasons)
		assert.Greater(t, m.Significance, identify.Threshold(1000), m.Phase.ID)
		assert.True(t, slices.IsSortedFunc(m.Lines, func(a, b pattern.LineFit) int { return cmp.Compare(a.TwoTheta, b.TwoTheta) }))
	}
}

// The threshold is the Gaussian quantile of 10⁻³ shared among ten places of every phase: 3.719 for one, 5.199 for a thousand (tables of
// the normal distribution: 10⁻⁴ and 10⁻⁷ in one tail), and rises with the number.
func TestThresholdIsAQuantile(t *testing.T) {
	assert.InDelta(t, 3.719, identify.Threshold(1), 5e-4)
	assert.InDelta(t, 5.199, identify.Threshold(1000), 5e-4)
	assert.Equal(t, identify.Threshold(1), identify.Threshold(-5))
	for n := 1; n < 1e6; n *= 3 {
		assert.Less(t, identify.Threshold(n), identify.Threshold(3*n))
	}
}

// Suspects of an angle lie within the tolerance, those by whose strongest lines it is come first, and a wider tolerance loses none.
func TestSuspects(t *testing.T) {
	lib := library.Starter()
	for at := 20.0; at < 100; at += 7.3 {
		few, many := identify.Explain(lib, identify.Filter{}, at, 0.1, 1.540593), identify.Explain(lib, identify.Filter{}, at, 0.3, 1.540593)
		for k, s := range few {
			assert.InDelta(t, at, s.TwoTheta, 0.1+1e-4)
			assert.True(t, s.Rank >= 1 && s.Intensity > 0 && s.Intensity <= 100.01)
			assert.True(t, k == 0 || few[k-1].Rank <= s.Rank)
			assert.True(t, slices.ContainsFunc(many, func(o result.Suspect) bool { return o.ID == s.ID }), s.ID)
		}
	}
	assert.Empty(t, identify.Explain(lib, identify.Filter{}, math.NaN(), 0.1, 1.54))
	assert.Empty(t, identify.Explain(lib, identify.Filter{}, 40, 0.1, math.NaN()))
}

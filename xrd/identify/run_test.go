package identify

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

func TestRunFindsThePhases(t *testing.T) {
	out := run(t, bushing.job(t, library.Starter()))
	assert.Equal(t, map[string]result.Evidence{"copper": result.Established, "cu3sn-epsilon": result.Established, "cuprite": result.Established}, evidenceLevels(out))
	assert.Equal(t, library.Starter().Len(), out.Tried)
	assert.Nil(t, out.Radiation)
	for p, m := range out.Matches {
		assert.Equal(t, m.Phase.ID, out.Fit.Setup.Phases[p].ID, "matches stand in the order of the fit")
		assert.NotEmpty(t, m.Reasons)
		assert.Greater(t, m.Significance, out.Threshold)
	}
}

func TestRunDoesNotDependOnWorkers(t *testing.T) {
	job := bushing.job(t, library.Starter())
	job.Workers = 1
	one := run(t, job)
	job.Workers = 2
	two := run(t, job)
	require.Equal(t, evidenceLevels(one), evidenceLevels(two))
	assert.Equal(t, one.Fit.Scales, two.Fit.Scales)
	for p := range one.Matches {
		assert.Equal(t, one.Matches[p].Alternatives, two.Matches[p].Alternatives)
		assert.Equal(t, one.Matches[p].Significance, two.Matches[p].Significance)
	}
}

func TestRunStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Run(ctx, bushing.job(t, library.Starter()))
	assert.ErrorIs(t, err, context.Canceled)
}

func TestNothingFound(t *testing.T) {
	halo := func(x float64) float64 { return 25 + 400*math.Exp(-(x-22)*(x-22)/30) }
	for name, s := range map[string]specimen{
		"a halo only": {lo: 10, background: halo, seed: 5},
		"noise only":  {seed: 6},
		"5° of noise": {lo: 40, hi: 45, seed: 7},
	} {
		out := run(t, s.job(t, library.Starter()))
		assert.Empty(t, evidenceLevels(out), name)
		assert.Nil(t, out.Radiation, name)
	}
}

// A narrow scan shows one line of copper: that is a name with doubt, not an established phase.
func TestNarrowScan(t *testing.T) {
	out := run(t, specimen{parts: []part{{"copper", 100, 0}}, lo: 41, hi: 46}.job(t, library.Starter()))
	for id, w := range evidenceLevels(out) {
		assert.Equal(t, result.Tentative, w, id)
	}
}

func TestPhasesWithoutLinesInRange(t *testing.T) {
	lib := library.FromRecords("test", "", nil)
	out := run(t, specimen{parts: nil}.job(t, lib))
	assert.Empty(t, out.Matches)
	assert.Zero(t, out.Tried)
	job := specimen{lo: 20, hi: 25}.job(t, library.Starter())
	job.Filter = Filter{Require: []string{"copper"}} // its first line is at 43°
	out = run(t, job)
	require.Len(t, out.Matches, 1)
	assert.Equal(t, result.Named, out.Matches[0].Evidence)
}

func TestElementsLeaveNoPhase(t *testing.T) {
	job := bushing.job(t, library.Starter())
	job.Filter = Filter{Elements: set(54), Strict: true} // xenon
	out := run(t, job)
	assert.Equal(t, out.Watched, out.Tried, "only the watch-list is left")
}

func TestTooFewPoints(t *testing.T) {
	_, err := Run(context.Background(), Job{Setup: pattern.Setup{TwoTheta: []float64{20, 21}}, Collection: library.FromRecords("", "", nil)})
	assert.ErrorIs(t, err, pattern.ErrSetup)
}

// TestReviseSwaps starts from a wrong isotypic phase in place of copper, its cell far from its own.
func TestReviseSwaps(t *testing.T) {
	lib := library.Starter()
	job := specimen{parts: []part{{"copper", 300, 0}, {"corundum", 100, 0}}, seed: 8}.job(t, lib)
	job.Filter = Filter{Exclude: []string{"copper"}, Elements: refdata.ElementSet{}.With(8).With(13).With(28).With(29).With(50)}
	wrong := run(t, job)
	require.Len(t, wrong.Matches, 2, "chance does not count where the elements are given")
	job.Filter = Filter{}
	right := run(t, job)
	assert.Contains(t, evidenceLevels(right), "copper")
	assert.NotContains(t, evidenceLevels(wrong), "copper")
	s, _ := newSearch(job)
	s.matches, s.fit, s.knots = wrong.Matches, wrong.Fit, wrong.Fit.Knots
	require.NoError(t, s.revise(context.Background()))
	s.judge()
	assert.Contains(t, evidenceLevels(&Explanation{Matches: s.matches}), "copper", "a better phase takes the place of a match")
}

// An isotypic phase of nearly the same cell and intensities stands as an alternative, with what would decide.
func TestAlternatives(t *testing.T) {
	out := run(t, specimen{parts: []part{{"niobium", 40, 0.0004}}, hi: 75, displacement: 0.1, seed: 9}.job(t, library.Starter()))
	require.Len(t, out.Matches, 1)
	m := out.Matches[0]
	ids := []string{m.Phase.ID}
	for _, a := range m.Alternatives {
		ids = append(ids, a.ID)
		assert.NotEmpty(t, a.Decide)
	}
	assert.Contains(t, ids, "niobium")
	assert.Contains(t, ids, "tantalum")
	assert.Equal(t, result.Tentative, m.Evidence, "a phase with a rival is not established")
}

func TestDecide(t *testing.T) {
	lib := library.Starter()
	beam := refdata.Beam{Radiation: radiation(t, "Cu"), MaxTwoTheta: 150}
	q := inquiry{lo: 20, hi: 80, ins: specimen{}.job(t, lib).Setup.Instrument}
	get := func(id string) refdata.Phase { return phaseOf(t, id, beam) }
	assert.Contains(t, q.decide(get("niobium"), get("tantalum")), "Nb", "an element analysis")
	assert.Contains(t, q.decide(get("quartz"), get("cristobalite")), "a line at")
	same := q.decide(get("copper"), get("copper"))
	assert.Contains(t, same, "same lines and elements")
}

// A scan with cobalt that is said to be copper: no phase fits, and screening says which tube would.
func TestWrongRadiation(t *testing.T) {
	lib := library.Starter()
	job := specimen{parts: []part{{"corundum", 300, 0}, {"zincite", 200, 0}}, radiation: "Co", lo: 25, hi: 110}.job(t, lib)
	assert.Nil(t, run(t, job).Radiation, "the right one is not doubted")
	job.Setup.Radiation = radiation(t, "Cu")
	job.Beam.Radiation = job.Setup.Radiation
	out := run(t, job)
	require.NotNil(t, out.Radiation)
	assert.Equal(t, "Co", out.Radiation.Name)
	assert.Greater(t, out.Radiation.Share, policy.Tube.Share)
	assert.Greater(t, out.Radiation.Gain, 2.0)
}

// Fluorite and lime read with another tube: vanadium nitride has the places of lime's lines and explains most, but its name does not hold.
func TestWrongRadiationWithAStandIn(t *testing.T) {
	job := specimen{parts: []part{{"fluorite", 80, 0}, {"lime", 320, 0}}, radiation: "Co", lo: 25, hi: 110}.job(t, library.Starter())
	assert.Nil(t, run(t, job).Radiation, "the right one is not doubted")
	job.Setup.Radiation = radiation(t, "Cu")
	job.Beam.Radiation = job.Setup.Radiation
	out := run(t, job)
	require.Equal(t, result.Partial, out.Coverage.Verdict)
	require.False(t, Holds(out.Matches), "%v", evidenceLevels(out))
	require.NotNil(t, out.Radiation)
	assert.Equal(t, "Co", out.Radiation.Name)
}

// Two cubic phases that the collection lacks look like others with another tube; none of these is established, and no tube is doubted.
func TestStandInsDoubtNoTube(t *testing.T) {
	job := specimen{parts: []part{{"lime", 400, 0}, {"fluorite", 60, 0}}, lo: 25, hi: 110}.job(t, library.Starter())
	job.Filter.Exclude = []string{"lime", "fluorite"}
	out := run(t, job)
	assert.Nil(t, out.Radiation, "%v", evidenceLevels(out))
}

// A phase that the collection lacks leaves every tube without an explanation: none is doubted.
func TestMissingPhaseDoubtsNoTube(t *testing.T) {
	for seed, id := range []string{"corundum", "periclase"} {
		job := specimen{parts: []part{{id, 300, 0}}, lo: 15, seed: uint64(81 + 4*seed)}.job(t, library.Starter())
		job.Filter.Exclude = []string{id}
		assert.Nil(t, run(t, job).Radiation, id)
	}
}

// Niobium and tantalum differ by 0.16 % of cell and little in intensities: when few grains make all lines scatter, a better
// fit of one does not exclude the other.
func TestTwinsAreTold(t *testing.T) {
	lib := library.Starter()
	job := specimen{parts: []part{{"niobium", 300, 0}}, hi: 110, seed: 12}.job(t, lib)
	s, _ := newSearch(job)
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"niobium", "tantalum", true},
		{"niobium", "niobium", true},
		{"niobium", "molybdenum", false}, // 4.6 % smaller
		{"niobium", "copper", false},
		{"silicon", "diamond", false},
	} {
		assert.Equal(t, c.want, s.screen.SameLines(phaseOf(t, c.a, job.Beam), phaseOf(t, c.b, job.Beam), 2*policy.Cells.Same), "%s %s", c.a, c.b)
	}
	out := run(t, job)
	require.Len(t, out.Matches, 1)
	assert.Equal(t, result.Tentative, out.Matches[0].Evidence)
	assert.NotEmpty(t, out.Matches[0].Alternatives)
}

// TestTakenIn: a full fit takes in part of a weak phase with its background and widths; what it leaves gains less than the phase is
// worth, which still leads to the phase.
func TestTakenIn(t *testing.T) {
	for _, s := range []specimen{
		{parts: []part{{"corundum", 300, 0}, {"copper", 200, 0}, {"aragonite", 2, 0}}, seed: 5},
		{parts: []part{{"corundum", 300, 0}, {"copper", 200, 0}, {"tin-beta", 1, 0}}, radiation: "Mo", lo: 8, hi: 52, step: 0.01, seed: 5},
	} {
		w := evidenceLevels(run(t, s.job(t, library.Starter())))
		assert.Len(t, w, 3)
		assert.Contains(t, w, s.parts[2].id)
	}
}

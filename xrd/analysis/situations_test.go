package analysis_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
	"phasetally/xrd/xrdtest"
)

// Acceptance situations of the people at the bench (PRACTICE.md, section 5) that no other test plays through; DEVELOPERS.md lists all.

// part is a phase of a simulated specimen.
type part struct {
	id string
	wt float64
}

// played simulates a scan with Cu Kα and returns the question that is asked of it.
func played(t *testing.T, parts []part, change func(*simulate.Job)) analysis.Job {
	t.Helper()
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	j := simulate.Job{Radiation: r, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 100, Step: 0.02, Time: 1, Rate: 4000, Background: 20, Seed: 3}
	j.Instrument.Radius = 200
	for _, x := range parts {
		for _, rec := range refdata.Starter() {
			if rec.ID == x.id {
				s, err := structure.FromRecord(rec)
				require.NoError(t, err)
				p, err := s.Phase(refdata.Beam{Radiation: r, MaxTwoTheta: 150})
				require.NoError(t, err)
				j.Components = append(j.Components, simulate.Component{Phase: p, WeightPercent: x.wt})
			}
		}
	}
	require.Len(t, j.Components, len(parts))
	change(&j)
	made, err := simulate.Run(j)
	require.NoError(t, err)
	scan, err := xrd.NewScan(made.TwoTheta, simulate.Count(made.Expected, j.Seed), nil, xrd.ScanInfo{})
	require.NoError(t, err)
	question := job(t, scan, "Cu")
	question.Instrument.Radius = j.Instrument.Radius
	return question
}

// 3: an old tube. Kβ at 38.95° and W Lα at 41.41° of Cu 111 are named, and no phase is invented for them.
func TestSituationOldTube(t *testing.T) {
	j := played(t, []part{{"copper", 100}}, func(s *simulate.Job) { s.KBeta, s.WLAlpha = 0.015, 0.015 })
	j.Filter.Elements = elements(t, "Cu,W,O,Fe")
	doc := run(t, j)
	require.Len(t, doc.Phases, 1)
	assert.Equal(t, "copper", doc.Phases[0].ID)
	assert.Contains(t, caution(t, doc, "k-beta").Text, "38.9")
	assert.Contains(t, caution(t, doc, "tungsten-line").Text, "41.4")
}

// 5: 1 % of silicon carbide in nickel is of preparation, out of the sum, and changes nothing of the specimen.
func TestSituationGrit(t *testing.T) {
	j := played(t, []part{{"nickel", 79}, {"bunsenite", 20}, {"sic-6h", 1}}, func(s *simulate.Job) { s.Time = 10 })
	j.Filter.Elements = elements(t, "Ni,O")
	doc := run(t, j)
	assert.Equal(t, "sic-6h", caution(t, doc, "preparation-artefact").Evidence["phase"])
	assert.EqualValues(t, "preparation", phase(t, doc, "sic-6h").Origin)
	assert.InDelta(t, 100*79./99, *phase(t, doc, "nickel").WeightPercent, 1)
}

// 7: resin beside the specimen. Without a blank the halo is told; with one it is not, and what is left of the background is noise.
func TestSituationBlank(t *testing.T) {
	xrdtest.Long(t, "TestHalo and TestBlankIsNoSpecimen")
	halo := func(s *simulate.Job) { s.Haloes = []simulate.Halo{{D: 4.7, Width: 7, Height: 80}}; s.Lo = 10 }
	j := played(t, []part{{"copper", 80}, {"cuprite", 20}}, halo)
	assert.True(t, has(run(t, j), "amorphous-halo"))
	blank := played(t, []part{{"copper", 0.001}, {"cuprite", 99.999}}, func(s *simulate.Job) { halo(s); s.Seed, s.Rate = 8, 1e-3 }) // hardly anything diffracts
	j.Blank = &blank.Scan
	doc := run(t, j)
	assert.False(t, has(doc, "amorphous-halo"))
	assert.Equal(t, result.Complete, doc.Explanation.Verdict)
}

// 8: a mount that stands 0.4 mm proud at a radius of 150 mm is found within 0.03 mm, and the cell within 3e-4.
func TestSituationProudMount(t *testing.T) {
	j := played(t, []part{{"copper", 70}, {"cuprite", 30}}, func(s *simulate.Job) { s.Displacement, s.Instrument.Radius = -0.4, 150 })
	j.Filter.Elements = elements(t, "Cu,O")
	doc := run(t, j)
	assert.InDelta(t, -0.4, caution(t, doc, "displaced").Evidence["displacement_mm"], 0.03)
	for _, c := range []struct {
		id string
		a  float64
	}{{"copper", 3.615}, {"cuprite", 4.2696}} { // cells of the starter collection
		assert.InEpsilon(t, c.a, phase(t, doc, c.id).Cell.A, 3e-4, c.id)
	}
}

// 12: few grains. One spot is flagged; four spots together scatter by about half.
func TestSituationFewGrains(t *testing.T) {
	xrdtest.Long(t, "TestSameSpecimen")
	var jobs []analysis.Job
	for seed := range uint64(4) {
		j := played(t, []part{{"copper", 60}, {"cu3sn-epsilon", 40}}, func(s *simulate.Job) { s.LineScatter, s.Seed = 0.3, 20+seed })
		j.Phases = []string{"copper", "cu3sn-epsilon"}
		jobs = append(jobs, j)
	}
	var off float64
	for _, j := range jobs {
		doc := run(t, j)
		assert.True(t, has(doc, "coarse-grain") || has(doc, "texture"))
		off += math.Pow(*phase(t, doc, "copper").WeightPercent-60, 2) / 4
	}
	all, err := analysis.RunSame(t.Context(), jobs)
	require.NoError(t, err)
	c := phase(t, all[0].Document, "copper")
	assert.Less(t, math.Abs(*c.WeightPercent-60), 2*math.Sqrt(off/4)+1)
	assert.True(t, *c.WeightPercentLo < 60 && 60 < *c.WeightPercentHi)
}

// 13: a trace is found as long as it is counted long enough; at a quarter of the time it is below a limit that says so.
func TestSituationTrace(t *testing.T) {
	scan := func(time float64) analysis.Job {
		j := played(t, []part{{"silicon", 99.4}, {"quartz", 0.6}}, func(s *simulate.Job) { s.Rate, s.Background, s.Time, s.Hi = 2000, 30, time, 90 })
		j.Filter.Elements, j.Watch = elements(t, "Si"), []string{"quartz"}
		return j
	}
	long := run(t, scan(4))
	assert.Equal(t, "quartz", phase(t, long, "quartz").ID)
	short := run(t, scan(0.25))
	require.Len(t, short.Phases, 1)
	for _, n := range short.NotDetected {
		if n.ID == "quartz" {
			assert.Greater(t, *n.DetectionLimit, 0.6, "what was not seen is below its limit")
			assert.Less(t, *n.DetectionLimit, 2.5)
			return
		}
	}
	t.Error("no limit of quartz")
}

// 6: diamond beside copper (43.92° beside 43.32°): not sure as long as its other lines lie outside the range, which is told.
func TestSituationDiamond(t *testing.T) {
	j := played(t, []part{{"copper", 98}, {"diamond", 2}}, func(s *simulate.Job) { s.Hi, s.Time = 70, 4 })
	j.Filter.Elements = elements(t, "Cu")
	for _, p := range run(t, j).Phases {
		if p.ID == "diamond" {
			assert.NotEqual(t, result.Established, p.Evidence)
		}
	}
	j = played(t, []part{{"copper", 90}, {"diamond", 10}}, func(s *simulate.Job) { s.Time = 20 })
	j.Filter.Elements = elements(t, "Cu")
	doc := run(t, j)
	assert.NotEmpty(t, phase(t, doc, "diamond").ID, "75.3° and 91.5° decide")
}

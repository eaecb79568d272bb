package analysis_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// sections are the two scans of one simulated specimen, 70 % copper and 30 % Cu3Sn, in this order.
func sections(t testing.TB, names ...string) []analysis.Job {
	var jobs []analysis.Job
	for _, name := range names {
		j := simulated(t, name, "copper", "cu3sn-epsilon")
		j.File, j.Specimen.Section = name+".xy", name
		j.Intercepts = []xrd.Intercept{{Micron: 0.05, U: 0.01}} // the simulation knows no grains
		jobs = append(jobs, j)
	}
	return jobs
}

// TestSameSpecimen: two sections of one specimen, in one of which copper is textured, give one set of fractions that lies
// between what each says alone, holds the truth, and is surer in what counting leaves open.
func TestSameSpecimen(t *testing.T) {
	results, err := analysis.RunSame(t.Context(), sections(t, "longitudinal", "transverse"))
	require.NoError(t, err)
	require.Len(t, results, 2)
	doc := results[0].Document
	joint := phase(t, doc, "copper")
	assert.InDelta(t, 70, *joint.WeightPercent, 1.5)
	assert.True(t, *joint.WeightPercentLo < 70 && 70 < *joint.WeightPercentHi)

	s := doc.SameSpecimen
	require.NotNil(t, s)
	require.Len(t, s.Scans, 2)
	var alone [2]float64
	for i, scan := range s.Scans {
		assert.Equal(t, []string{"longitudinal", "transverse"}[i], scan.Section)
		for _, p := range scan.Phases {
			if p.ID == "copper" {
				alone[i] = *p.WeightPercent
				if i == 1 {
					require.Len(t, p.Texture, 1, "a texture of its own")
					assert.InDelta(t, 0.75, p.Texture[0].R, 0.03, "as simulated")
				}
			}
		}
	}
	assert.Greater(t, *joint.WeightPercent, math.Min(alone[0], alone[1]))
	assert.Less(t, *joint.WeightPercent, math.Max(alone[0], alone[1]))
	assert.InDelta(t, alone[1], *phase(t, results[1].Document, "copper").WeightPercent, 1e-9, "the second result is that scan alone")
	assert.Nil(t, results[1].Document.SameSpecimen)
	assert.Equal(t, 1, s.Freedom)
	assert.Greater(t, *s.P, 0.01)
	assert.False(t, has(doc, "scans-disagree"))
	assert.Contains(t, caution(t, doc, "texture").Text, "transverse.xy: ", "the caution names its scan")
	sources := map[string]bool{}
	for _, b := range joint.Budget {
		sources[b.Source] = true
	}
	assert.True(t, sources["between scans (mounts, sections)"])
}

// TestSameSpecimenOrder: the order of the scans changes nothing; a phase that is named and absent changes nothing
// but what is said of itself.
func TestSameSpecimenOrder(t *testing.T) {
	answer := func(absent string, names ...string) result.Document {
		jobs := sections(t, names...)
		for i := range jobs {
			if absent != "" {
				jobs[i].Phases = append(jobs[i].Phases, absent)
			}
		}
		results, err := analysis.RunSame(t.Context(), jobs)
		require.NoError(t, err)
		return results[0].Document
	}
	plain := answer("", "longitudinal", "transverse")
	copper := phase(t, plain, "copper")
	for _, absent := range xrdtest.Some(t, []string{"", "cu6sn5-eta", "tin-beta"}, 2) {
		doc, reversed := answer(absent, "longitudinal", "transverse"), answer(absent, "transverse", "longitudinal")
		a, b := phase(t, doc, "copper"), phase(t, reversed, "copper")
		assert.InDelta(t, *a.WeightPercent, *b.WeightPercent, 1e-9)
		assert.InDelta(t, *a.WeightPercentLo, *b.WeightPercentLo, 1e-9)
		assert.InDelta(t, *a.WeightPercentHi, *b.WeightPercentHi, 1e-9)
		assert.InDelta(t, *a.VolumePercentLo, *b.VolumePercentLo, 1e-9)
		assert.InDelta(t, *a.DetectionLimit, *b.DetectionLimit, 1e-9)
		assert.InDelta(t, *copper.WeightPercent, *a.WeightPercent, 1e-9, absent)
		assert.InDelta(t, *copper.WeightPercentLo, *a.WeightPercentLo, 1e-9, absent)
		assert.InDelta(t, *copper.WeightPercentHi, *a.WeightPercentHi, 1e-9, absent)
		if absent != "" {
			require.Len(t, doc.NotDetected, 1)
			assert.InDelta(t, *doc.NotDetected[0].DetectionLimit, *reversed.NotDetected[0].DetectionLimit, 1e-9)
		}
	}
}

// TestSameSpecimenDisagrees: a scan of another specimen is no replicate, and it is said; the intervals grow to hold both.
func TestSameSpecimenDisagrees(t *testing.T) {
	xrdtest.Long(t, "the scans that disagree in package quantify")
	jobs := []analysis.Job{
		bentDemo(t, func(string, float64) float64 { return 1 }), bentDemo(t, func(string, float64) float64 { return 1 }),
		bentDemo(t, func(id string, _ float64) float64 {
			return map[string]float64{"bronze-alpha": 1, "cu3sn-epsilon": 2}[id]
		}),
	}
	results, err := analysis.RunSame(t.Context(), jobs)
	require.NoError(t, err)
	doc := results[0].Document
	c := caution(t, doc, "scans-disagree")
	assert.Less(t, c.Evidence["p"], 0.01)
	assert.Equal(t, xrd.SeverityCaution, c.Severity)
	p := phase(t, doc, "cu3sn-epsilon")
	for _, scan := range doc.SameSpecimen.Scans {
		for _, q := range scan.Phases {
			if q.ID == "cu3sn-epsilon" {
				assert.True(t, *p.WeightPercentLo < *q.WeightPercent && *q.WeightPercent < *p.WeightPercentHi)
			}
		}
	}
}

func TestSameSpecimenRefused(t *testing.T) {
	_, err := analysis.RunSame(t.Context(), sections(t, "transverse"))
	assert.ErrorIs(t, err, analysis.ErrOneScan)
	jobs := sections(t, "transverse", "longitudinal")
	jobs[0].Phases = nil
	_, err = analysis.RunSame(t.Context(), jobs)
	assert.ErrorIs(t, err, analysis.ErrOneScan)
	jobs = sections(t, "transverse", "longitudinal")
	jobs[1].Range = [2]float64{30, 30.1}
	_, err = analysis.RunSame(t.Context(), jobs)
	assert.ErrorIs(t, err, analysis.ErrNothingLeft)
	assert.ErrorContains(t, err, "longitudinal.xy")
}

package analysis_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// everyPhase returns the ids of all phases of the starter collection.
func everyPhase() (ids []string) {
	c := library.Starter()
	for i := range c.Len() {
		ids = append(ids, c.Entry(i).ID)
	}
	return ids
}

// TestManyNamedPhases: who names every phase there is gets the answer of who names those that are there, says so, and a limit for each
// other; a standard stays named although the scan does not show it.
func TestManyNamedPhases(t *testing.T) {
	j := demo(t)
	j.Phases = []string{"bronze-alpha", "cu3sn-epsilon", "cu6sn5-eta", "cuprite"}
	plain := run(t, j)
	j.Phases = everyPhase()
	many := run(t, j)
	assert.Equal(t, plain.Phases, many.Phases)
	assert.Equal(t, plain.Fit, many.Fit)
	assert.Len(t, many.NotDetected, len(j.Phases)-4)
	for _, n := range many.NotDetected {
		assert.True(t, n.Asked && n.DetectionLimit != nil && *n.DetectionLimit < 6, n.ID)
	}
	assert.False(t, has(plain, "many-named"))
	assert.True(t, has(many, "many-named"))

	j.Spike = &analysis.Spike{ID: "corundum", WeightPercent: 20}
	assert.True(t, slices.ContainsFunc(run(t, j).Cautions, func(c xrd.Caution) bool { return c.Code == "standard-missing" }))
}

// TestManyNamedPhasesThatAreNotThere: nothing of a dozen and more that are named is there.
func TestManyNamedPhasesThatAreNotThere(t *testing.T) {
	j := demo(t)
	for _, id := range everyPhase() {
		if !slices.Contains([]string{"bronze-alpha", "cu3sn-epsilon", "cu6sn5-eta", "cu6sn5-eta-prime", "cuprite", "copper"}, id) && len(j.Phases) < 13 {
			j.Phases = append(j.Phases, id)
		}
	}
	doc := run(t, j)
	assert.True(t, has(doc, "not-explained") || has(doc, "partly-explained"), doc.Cautions)
}

// TestManyNamedPhasesOfOneSpecimen: what one of the scans shows is fitted in all.
func TestManyNamedPhasesOfOneSpecimen(t *testing.T) {
	jobs := sections(t, "longitudinal", "transverse")
	plain, err := analysis.RunSame(t.Context(), jobs)
	require.NoError(t, err)
	for i := range jobs {
		jobs[i].Phases = everyPhase()
	}
	many, err := analysis.RunSame(t.Context(), jobs)
	require.NoError(t, err)
	assert.Equal(t, phase(t, plain[0].Document, "copper").WeightPercent, phase(t, many[0].Document, "copper").WeightPercent)
	assert.True(t, has(many[0].Document, "many-named"))
}

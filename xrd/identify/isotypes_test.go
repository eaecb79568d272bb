package identify_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

// Tantalum (a = 3.303 Å) has the lines of niobium (3.301 Å). Where only one is in the reference data no name is firm, unless the elements
// say which it is; a phase of a type of its own stays firm.
func TestIsotypesBeyondTheReferenceData(t *testing.T) {
	job := mixture(t, map[string]float64{"niobium": 4000, "corundum": 1500})
	job.Collection = without(library.Starter(), 0, "tantalum", "niobium-titanium", "titanium-beta")
	at := func() (of map[string]result.Evidence, reasons string) {
		of = map[string]result.Evidence{}
		for _, m := range explain(t, job).Matches {
			of[m.Phase.ID] = m.Evidence
			for _, r := range m.Reasons {
				if r.Code == "isotype" {
					reasons += m.Phase.ID + ": " + r.Text
				}
			}
		}
		return of, reasons
	}
	of, reasons := at()
	require.Equal(t, result.Established, of["niobium"], "nothing else is known")
	require.Equal(t, result.Established, of["corundum"])
	assert.Empty(t, reasons)

	job.Known = library.Starter()
	of, reasons = at()
	assert.Equal(t, result.Tentative, of["niobium"])
	assert.Contains(t, reasons, "niobium: phases that are not in the reference data have the lines that are seen of it: ")
	assert.Contains(t, reasons, "tantalum")
	assert.Equal(t, result.Established, of["corundum"])

	for _, symbol := range []string{"Nb", "Al"} {
		e, ok := element.Lookup(symbol)
		require.True(t, ok)
		job.Filter.Elements = job.Filter.Elements.With(e.Z)
	}
	of, _ = at()
	assert.Equal(t, result.Established, of["niobium"], "the elements decide")
	ta, ok := element.Lookup("Ta")
	require.True(t, ok)
	stated := job.Filter.Elements
	job.Filter.Elements = stated.With(ta.Z)
	of, reasons = at()
	assert.Equal(t, result.Tentative, of["niobium"], "they do not where tantalum is stated, too")
	assert.Contains(t, reasons, "--library")

	job.Filter.Elements, job.Filter.Require = refdata.ElementSet{}, []string{"niobium"}
	_, reasons = at()
	assert.Empty(t, reasons, "it was asked for")

	job.Filter.Require, job.Collection = nil, library.Starter()
	_, reasons = at()
	assert.Empty(t, reasons, "tantalum is in the reference data and was asked about")
}

// TestCellOfAPhaseElsewhere: NiAl in a specimen of which iron and aluminium were stated has the lines of FeAl, with a cell that FeAl does not have: the name
// rests on what was stated alone. FeAl in its own cell stays firm, and so does a name for which elements decide.
func TestCellOfAPhaseElsewhere(t *testing.T) {
	levels := func(id string, z ...int) (of map[string]result.Evidence, reasons string) {
		job := mixture(t, map[string]float64{id: 4000, "corundum": 1500})
		job.Known = library.Starter()
		for _, z := range z {
			job.Filter.Elements = job.Filter.Elements.With(z)
		}
		of = map[string]result.Evidence{}
		for _, m := range explain(t, job).Matches {
			of[m.Phase.ID] = m.Evidence
			for _, r := range m.Reasons {
				if r.Code == "elements" {
					reasons += m.Phase.ID + ": " + r.Text
				}
			}
		}
		return of, reasons
	}
	of, reasons := levels("nial", 26, 13)
	assert.Equal(t, result.Tentative, of["feal"])
	assert.Contains(t, reasons, "feal: its cell is that of NiAl")
	of, reasons = levels("feal", 26, 13)
	assert.Equal(t, result.Established, of["feal"])
	assert.Empty(t, reasons)
	of, reasons = levels("nial", 28, 13)
	assert.Equal(t, result.Established, of["nial"])
	assert.Empty(t, reasons)
}

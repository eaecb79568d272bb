package analysis_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/identify"
)

// doubled is a collection with one more phase: another under a new name, changed.
type doubled struct {
	identify.Collection
	of     int
	change func(*refdata.Phase)
}

func (d doubled) Len() int { return d.Collection.Len() + 1 }

func (d doubled) Entry(i int) refdata.Entry {
	if i < d.Collection.Len() {
		return d.Collection.Entry(i)
	}
	e := d.Collection.Entry(d.of)
	e.ID, e.Name = "twin", "twin"
	return e
}

func (d doubled) Phase(i int, b refdata.Beam) (refdata.Phase, error) {
	if i < d.Collection.Len() {
		return d.Collection.Phase(i, b)
	}
	p, err := d.Collection.Phase(d.of, b)
	p.ID, p.Name = "twin", "twin"
	d.change(&p)
	return p, err
}

// withTwin is the longitudinal section (70 % copper, 30 % Cu3Sn) with a second phase that is copper but for a change.
func withTwin(t testing.TB, change func(*refdata.Phase)) analysis.Job {
	j := job(t, load(t, "testdata/longitudinal.xy"), "Cu")
	for i := range j.Collection.Len() {
		if j.Collection.Entry(i).ID == "copper" {
			j.Collection = doubled{j.Collection, i, change}
			break
		}
	}
	j.Phases = []string{"copper", "twin", "cu3sn-epsilon"}
	return j
}

// TestTwins: two phases with the same lines are said to be inseparable, and their sum is right.
func TestTwins(t *testing.T) {
	doc := run(t, withTwin(t, func(*refdata.Phase) {}))
	c := caution(t, doc, "same-lines")
	assert.Contains(t, c.Text, "cannot be told apart")
	assert.InDelta(t, 70, c.Evidence["sum_weight_percent"], 4)
	assert.InDelta(t, 70, *phase(t, doc, "copper").WeightPercent, 4)
	assert.Equal(t, "twin", phase(t, doc, "copper").Alternatives[0].ID)
	assert.Contains(t, phase(t, doc, "copper").Alternatives[0].Decide, "elemental analysis")
	assert.Empty(t, doc.NotDetected, "it is not said to be missing")
	assert.NotContains(t, c.Evidence, "sum_if_other_weight_percent")

	// The same when both are required beside a search.
	j := withTwin(t, func(*refdata.Phase) {})
	j.Phases, j.Filter = nil, identify.Filter{Require: []string{"copper", "twin"}, Elements: elements(t, "Cu,Sn")}
	doc = run(t, j)
	assert.InDelta(t, 70, caution(t, doc, "same-lines").Evidence["sum_weight_percent"], 4, "whichever of the two is kept")

	// With half the RIR the same intensity is twice the mass: f/(1 − f) doubles.
	doc = run(t, withTwin(t, func(p *refdata.Phase) { p.RIR.Value /= 2 }))
	f := *phase(t, doc, "copper").WeightPercent / 100
	assert.InDelta(t, 100*2*f/(1+f), caution(t, doc, "same-lines").Evidence["sum_if_other_weight_percent"], 1e-9)

	// A cell that is 0.05 % larger moves lines by half a width; fitted cells then lie anywhere, and neither is significant alone.
	doc = run(t, withTwin(t, larger(1.0005)))
	assert.InDelta(t, 70, caution(t, doc, "same-lines").Evidence["sum_weight_percent"], 4)
	assert.Empty(t, doc.NotDetected)

	// A cell that is 1 % larger is another phase, and it is not there.
	doc = run(t, withTwin(t, larger(1.01)))
	assert.False(t, has(doc, "same-lines"))
	assert.Len(t, doc.NotDetected, 1)
}

// larger makes the cell of a phase larger by a factor.
func larger(f float64) func(*refdata.Phase) {
	return func(p *refdata.Phase) {
		c := *p.Cell
		c.A, c.B, c.C = f*c.A, f*c.B, f*c.C
		p.Cell = &c
		p.Lines = append([]refdata.Line(nil), p.Lines...)
		for i := range p.Lines {
			p.Lines[i].D *= f
		}
	}
}

// TestMissingRatio: without its reference intensity ratio no phase gets a fraction, and the remedy is said.
func TestMissingRatio(t *testing.T) {
	j := withTwin(t, func(p *refdata.Phase) { p.RIR = refdata.RIR{} })
	j.Phases = []string{"twin", "cu3sn-epsilon"}
	doc := run(t, j)
	c := caution(t, doc, "rir-missing")
	assert.Equal(t, xrd.SeverityStop, c.Severity)
	assert.Contains(t, c.Remedy, "CIF")
	for _, p := range doc.Phases {
		assert.Nil(t, p.WeightPercent, p.ID)
		assert.Nil(t, p.VolumePercent, p.ID)
	}
}

// TestUndetermined: a narrow range holds no line of some phases and too few points for all of them.
func TestUndetermined(t *testing.T) {
	j := job(t, load(t, "testdata/longitudinal.xy"), "Cu")
	j.Phases, j.Range = []string{"copper", "cu3sn-epsilon", "diamond"}, [2]float64{37, 38.6}
	doc := run(t, j)
	c := caution(t, doc, "undetermined")
	assert.Contains(t, c.Text, "diamond", "its first line is at 43.9°")
	texts := ""
	for _, c := range doc.Cautions {
		texts += c.Text
	}
	assert.Contains(t, texts, "more than the scan supports")
	for _, p := range doc.Phases {
		require.NotNil(t, p.WeightPercentLo, "%s has an interval all the same", p.ID)
		assert.False(t, math.IsNaN(*p.WeightPercentLo))
	}
	assert.False(t, has(demoDocument(t), "undetermined"))
}

package refdata_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
)

func entry(r refdata.Record) refdata.Entry {
	e := refdata.Entry{ID: r.ID, Formula: r.Formula, Strong: r.Strong}
	for _, a := range r.Atoms {
		for z, symbol := range map[int]string{8: "O", 13: "Al", 14: "Si", 22: "Ti", 29: "Cu", 50: "Sn", 6: "C", 20: "Ca", 26: "Fe"} {
			if a.Element == symbol {
				e.Elements = e.Elements.With(z)
			}
		}
	}
	return e
}

// changed gives another determination: cell and intensities a little off.
func changed(e refdata.Entry, stretch, scatter float32) refdata.Entry {
	out := refdata.Entry{ID: "other", Formula: e.Formula, Elements: e.Elements}
	for i, l := range e.Strong {
		l.D *= 1 + stretch
		if i > 0 {
			l.Intensity += scatter * float32(1-2*(i%2))
		}
		out.Strong = append(out.Strong, l)
	}
	return out
}

// No two phases of the starter collection are one substance, polymorphs and polytypes with the same elements included; each
// is the same as another determination of it, and not as one of another composition (cell 1 % larger).
func TestSameSubstance(t *testing.T) {
	var all []refdata.Entry
	for _, r := range refdata.Starter() {
		if e := entry(r); e.Elements.Len() > 0 {
			all = append(all, e)
		}
	}
	for i, a := range all {
		assert.True(t, refdata.SameSubstance(a, changed(a, 1e-3, 5)), a.ID)
		assert.True(t, refdata.SameSubstance(changed(a, -1e-3, 5), a), a.ID)
		assert.False(t, refdata.SameSubstance(a, changed(a, 0.01, 0)), a.ID)
		for _, b := range all[i+1:] {
			if refdata.SameSubstance(a, b) {
				t.Errorf("%s and %s are taken for one", a.ID, b.ID)
			}
		}
	}
	assert.False(t, refdata.SameSubstance(refdata.Entry{}, refdata.Entry{}), "nothing is known of either")
}

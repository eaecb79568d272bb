package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
)

// set returns a set of elements by atomic number.
func set(z ...int) (s refdata.ElementSet) {
	for _, n := range z {
		s = s.With(n)
	}
	return s
}

func TestFilterAllows(t *testing.T) {
	const h, o, si, cu, sn = 1, 8, 14, 29, 50
	bronze := set(cu, sn)
	for _, c := range []struct {
		name   string
		filter Filter
		entry  refdata.Entry
		want   bool
	}{
		{"no elements given", Filter{}, refdata.Entry{ID: "quartz", Elements: set(si, o)}, true},
		{"within", Filter{Elements: bronze}, refdata.Entry{ID: "eta", Elements: bronze}, true},
		{"an element too many", Filter{Elements: bronze}, refdata.Entry{ID: "quartz", Elements: set(si, o)}, false},
		{"oxide by air", Filter{Elements: bronze}, refdata.Entry{ID: "cuprite", Elements: set(cu, o)}, true},
		{"oxide, strict", Filter{Elements: bronze, Strict: true}, refdata.Entry{ID: "cuprite", Elements: set(cu, o)}, false},
		{"ice: air alone", Filter{Elements: bronze}, refdata.Entry{ID: "ice", Elements: set(h, o)}, true},
		{"watch-list", Filter{Elements: bronze}, refdata.Entry{ID: "quartz", Elements: set(si, o), Preparation: "polish"}, true},
		{"watch-list, strict", Filter{Elements: bronze, Strict: true}, refdata.Entry{ID: "quartz", Elements: set(si, o), Preparation: "polish"}, true},
		{"watch-list, excluded", Filter{Elements: bronze, Exclude: []string{"QUARTZ"}}, refdata.Entry{ID: "quartz", Preparation: "polish"}, false},
		{"required", Filter{Elements: bronze, Require: []string{"Quartz"}}, refdata.Entry{ID: "quartz", Elements: set(si, o)}, true},
		{"excluded though required", Filter{Require: []string{"quartz"}, Exclude: []string{"quartz"}}, refdata.Entry{ID: "quartz"}, false},
		{"elements not known", Filter{Elements: bronze}, refdata.Entry{ID: "list"}, false},
		{"elements not known, none given", Filter{}, refdata.Entry{ID: "list"}, true},
	} {
		assert.Equal(t, c.want, c.filter.allows(c.entry), c.name)
	}
}

// Tables of the normal distribution: one-sided tail probabilities of 1e-4, 1e-5, 1e-6 and 1e-7.
func TestThreshold(t *testing.T) {
	for tried, want := range map[int]float64{1: 3.7190, 10: 4.2649, 100: 4.7534, 1000: 5.1993} {
		assert.InDelta(t, want, Threshold(tried), 5e-5, "%d tried (tables of the normal distribution, from memory)", tried)
	}
	assert.Equal(t, Threshold(1), Threshold(0))
	assert.Greater(t, Threshold(500000), Threshold(5000))
	assert.Less(t, Threshold(500000), 6.5)
}

package identify

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// While peaks are left, lines of a phase may be those of what is missing: diamond has the lines of Ni3Al but for 200, chromium nearly
// those of aluminium but for 111.
func TestContested(t *testing.T) {
	lib := library.Starter()
	index := func(id string) int {
		i, ok := lib.Find(id)
		require.True(t, ok, id)
		return i
	}
	nickelAluminium := refdata.ElementSet{}.With(28).With(13)
	lines := []pattern.LineFit{{Covered: true, Clear: 1, Observed: 80}, {Covered: true, Clear: 1, Observed: 100}, {Covered: true, Clear: 0.1, Observed: 900}}
	for _, c := range []struct {
		why      string
		id       string
		stated   refdata.ElementSet
		required bool
		left     []LeftPeak
		want     bool
	}{
		{"nothing is left", "diamond", nickelAluminium, false, nil, false},
		{"it has none of the stated elements", "diamond", nickelAluminium, false, []LeftPeak{{Area: 10}}, true},
		{"the user asked for it", "diamond", nickelAluminium, true, []LeftPeak{{Area: 10}}, false},
		{"no elements are stated", "diamond", refdata.ElementSet{}, false, []LeftPeak{{Area: 10}}, false},
		{"it has a stated element", "aluminium", nickelAluminium, false, []LeftPeak{{Area: 10}}, false},
		{"what is left is weak beside its own", "aluminium", nickelAluminium, false, []LeftPeak{{Area: 10}, {Area: 29}}, false},
		{"what is left may be of the same phase", "aluminium", nickelAluminium, false, []LeftPeak{{Area: 10}, {Area: 31}}, true},
	} {
		w := whole{coverage: Coverage{Share: 0.9, Verdict: result.Partial, Left: c.left}}
		m := Match{Index: index(c.id), Required: c.required, Lines: lines}
		m.unstated = Filter{Elements: c.stated}.unstated(lib.Entry(m.Index))
		assert.Equal(t, c.want, w.contested(&m), c.why)
	}
}

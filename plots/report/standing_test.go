package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots/report"
	"phasetally/xrd/result"
)

// TestStanding: what explains the scan so far is said first, and that it is not sure; before anything does, how many peaks wait for it.
func TestStanding(t *testing.T) {
	for want, p := range map[string]result.Progress{
		"finding peaks": {Doing: "finding peaks"},
		"peaks: 37, none explained yet; trying tin":                                       {Doing: "trying tin", Peaks: 37},
		"candidates for 62 % of the peak area so far: copper; trying tin":                 {Doing: "trying tin", Peaks: 37, Found: []string{"copper"}, Share: 0.62},
		"candidates for more than 99 % of the peak area so far: copper, tin; trying lead": {Doing: "trying lead", Peaks: 37, Found: []string{"copper", "tin"}, Share: 1},
		"candidates for 90 % of the peak area so far: a, b, c, d; x":                      {Doing: "x", Peaks: 9, Found: []string{"a", "b", "c", "d"}, Share: 0.9},
		"candidates for 90 % of the peak area so far: a, b, c and 2 more; x":              {Doing: "x", Peaks: 9, Found: []string{"a", "b", "c", "d", "e"}, Share: 0.9},
	} {
		assert.Equal(t, want, report.Standing(p))
	}
}

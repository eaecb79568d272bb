package analysis

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
)

// What is on the watch-list is the specimen's own above a small amount, but not beyond the elements that were stated.
func TestArtefacts(t *testing.T) {
	match := func(id string, outside bool) identify.Match {
		m := identify.Match{Phase: refdata.Phase{ID: id}, Outside: outside}
		if id != "copper" {
			m.Phase.Preparation = "polishing"
		}
		return m
	}
	fraction := func(percent float64) (f quantify.Fraction) {
		f.Weight.Percent = percent
		return f
	}
	job := Job{Search: Search{Collection: library.Starter()}}
	for _, c := range []struct {
		name    string
		outside bool
		percent float64
		want    quantify.Role
	}{
		{"much, no elements stated", false, 60, quantify.Specimen},
		{"little, no elements stated", false, 2, quantify.Preparation},
		{"much, beyond the stated elements", true, 60, quantify.Preparation},
	} {
		matches := []identify.Match{match("copper", false), match("corundum", c.outside)}
		answer := quantify.Answer{Fractions: []quantify.Fraction{fraction(100 - c.percent), fraction(c.percent)}}
		got := withArtefacts(job, matches, []quantify.Role{quantify.Specimen, quantify.Specimen}, answer)
		assert.Equal(t, []quantify.Role{quantify.Specimen, c.want}, got, c.name)
	}
}

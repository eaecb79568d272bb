package identify

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/pattern"
)

// TestPolytypes: a few lines of one polytype are those of another, so that a name which rests on them is none where the other is known but not
// in the reference data. Its whole pattern tells it, and reference data that have both have been asked.
func TestPolytypes(t *testing.T) {
	beam := refdata.Beam{Radiation: radiation(t, "Cu"), MaxTwoTheta: 100}
	three, six := phaseOf(t, "sic-3c", beam), phaseOf(t, "sic-6h", beam)
	few := Match{Phase: six}
	all := Match{Phase: six}
	for _, l := range six.Lines {
		f := seen()
		f.Line, f.TwoTheta, f.FWHM = l, l.TwoTheta, 0.1
		all.Lines = append(all.Lines, f)
		if l.Intensity < 30 || math.Abs(l.D-2.63) < 0.02 || math.Abs(l.D-2.36) < 0.02 || math.Abs(l.D-1.42) < 0.01 { // its own, beside 2.51, 1.54 and 1.31 Å
			f.Clear = 0
		}
		few.Lines = append(few.Lines, f)
	}
	assert.True(t, few.seenIn(three, nil, 20, 100))
	assert.False(t, all.seenIn(three, nil, 20, 100))
	assert.False(t, few.seenIn(phaseOf(t, "diamond", beam), nil, 20, 100))
	assert.False(t, (&Match{Phase: six}).seenIn(three, nil, 20, 100), "nothing is seen")
	// The other one, 4H, has a strong line at 2.57 Å, which this one has not.
	four := phaseOf(t, "sic-4h", beam)
	assert.False(t, few.seenIn(four, nil, 20, 100))
	var all4 []float64
	for _, l := range four.Lines {
		all4 = append(all4, l.D)
	}
	assert.True(t, few.seenIn(four, all4, 20, 100), "its lines are left in the scan")
	assert.True(t, sameCell(six.Cell, six.Cell))
	assert.True(t, sameCell(six.Cell, nil), "not known")
	assert.False(t, sameCell(six.Cell, three.Cell))
	x := make([]float64, 2)
	x[0], x[1] = 20, 100
	s := &search{fit: &pattern.Fit{Setup: pattern.Setup{TwoTheta: x}}}
	s.job.Beam = beam
	lib := library.Starter()
	index, _ := lib.Find("sic-6h")
	few.Index = index
	s.job.Collection = lib
	assert.False(t, s.polytype(&few, three), "the reference data have it")
	s.job.Collection = lackingCubic{lib}
	assert.True(t, s.polytype(&few, three))
	assert.False(t, s.polytype(&all, three))
}

// lackingCubic is a collection that has no sic-3c; its place is taken by another phase.
type lackingCubic struct{ *library.Library }

func (o lackingCubic) Entry(i int) refdata.Entry {
	if e := o.Library.Entry(i); e.ID != "sic-3c" {
		return e
	}
	return o.Library.Entry(0)
}

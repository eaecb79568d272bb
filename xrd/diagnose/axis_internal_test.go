package diagnose

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
)

const copperTube = 1.5405929 // Kα1, Å

// column is what a program writes into the first column for a spacing, and the other way round by hand.
var column = map[string]func(d float64) float64{
	"θ":                      func(d float64) float64 { return 180 / math.Pi * math.Asin(copperTube/2/d) },
	"spacings d in Å":        func(d float64) float64 { return d },
	"Q = 4π sin θ/λ in 1/Å":  func(d float64) float64 { return 2 * math.Pi / d },
	"Q = 4π sin θ/λ in 1/nm": func(d float64) float64 { return 20 * math.Pi / d },
}

// of are peaks of the strong lines of phases, as a column shows them, and the ends of a scan from 20° to 100° 2θ in it.
func of(write func(d float64) float64, phases ...refdata.Record) (out []peaks.Peak, lo, hi float64) {
	least, _ := xrd.DSpacing(100, copperTube)
	most, _ := xrd.DSpacing(20, copperTube)
	for _, r := range phases {
		for _, l := range r.Strong {
			if d := float64(l.D); d > least && d < most && l.Intensity > 3 {
				out = append(out, peaks.Peak{TwoTheta: write(d * 1.0005), Area: float64(l.Intensity), FWHM: 0.1})
			}
		}
	}
	a, b := write(least), write(most)
	return out, math.Min(a, b), math.Max(a, b)
}

// records are the phases of the starter collection with enough strong lines to be sure of.
func records() (out []refdata.Record) {
	for _, r := range refdata.Starter() {
		if found, _, _ := of(column["θ"], r); len(found) >= axisLines+2 {
			out = append(out, r)
		}
	}
	return out
}

// Two phases of one specimen are recognised in every column that is no 2θ, and the column is named rightly.
func TestOtherAxes(t *testing.T) {
	list := records()
	for name, write := range column {
		right, wrong, n := 0, 0, 0
		for i := 0; i+1 < len(list); i += 2 {
			found, lo, hi := of(write, list[i])
			a, phase, _ := bestAxis(found, copperTube, lo, hi)
			n++
			switch {
			case phase.ID == "":
			case a.name == name:
				right++
			default:
				wrong++
				t.Log(name, list[i].ID, "read as", a.name, phase.ID)
			}
		}
		assert.GreaterOrEqual(t, right, 8*n/10, name)
		assert.Zero(t, wrong, name)
	}
}

// What is sure is never said of a right column: scans of another tube, of two phases, and peaks anywhere, which nothing explains.
func TestAxesThatAreRight(t *testing.T) {
	list := records()
	alarm := func(found []peaks.Peak, lo, hi float64, what string) {
		a, phase, share := bestAxis(found, copperTube, lo, hi)
		assert.Empty(t, phase.ID, "%s: %s with %s, %.2f", what, a.name, phase.Name, share)
	}
	angle := func(wavelength float64) func(d float64) float64 {
		return func(d float64) float64 { return 360 / math.Pi * math.Asin(wavelength/2/d) }
	}
	for i, r := range list {
		for _, wavelength := range []float64{copperTube, 1.7889, 0.70932, 2.2897} {
			found, _, _ := of(func(d float64) float64 { return d }, r, list[(i+7)%len(list)])
			kept := found[:0]
			for _, p := range found {
				if p.TwoTheta > wavelength/2*1.02 {
					p.TwoTheta = angle(wavelength)(p.TwoTheta)
					kept = append(kept, p)
				}
			}
			alarm(kept, 20, 100, r.ID)
		}
	}
	rnd := rand.New(rand.NewPCG(4, 2))
	for range 500 {
		var found []peaks.Peak
		for range 10 + rnd.IntN(60) {
			found = append(found, peaks.Peak{TwoTheta: 10 + 90*rnd.Float64(), Area: math.Exp(3 * rnd.Float64()), FWHM: 0.1})
		}
		alarm(found, 10, 100, "anywhere")
	}
}

package quantify_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// TestEither: whoever does not say whether a specimen is a powder or a section gets an interval that holds both, with the value of a
// fine powder; who says so gets the narrow one. The truth is made with the model of a section of any size, and with grains of a powder.
func TestEither(t *testing.T) {
	phases := sectionPhases()
	v := []float64{0.8, 0.14, 0.06}
	for _, size := range []float64{0, 0.3, 3, 10, 20, 100, math.Inf(1)} {
		scales, want := scalesOf(phases, v, mosaicOf(phases, size, nil))
		u := []float64{scales[0] / 200, scales[1] / 100, scales[2] / 100}
		in := quantify.Input{Fit: exact(t, phases, scales, u), Roles: make([]quantify.Role, 3), Threshold: 4}
		powder := quantify.Run(in)
		in.Section = &quantify.Section{}
		section := quantify.Run(in)
		in.Section = &quantify.Section{Perhaps: true}
		a := quantify.Run(in)
		require.Equal(t, quantify.Either, a.Absorption)
		assert.Equal(t, quantify.FinePowder, powder.Absorption)
		for k, f := range a.Fractions {
			p, s := powder.Fractions[k], section.Fractions[k]
			assert.LessOrEqual(t, f.Weight.Lo, want[k], "%g µm, phase %d", size, k)
			assert.GreaterOrEqual(t, f.Weight.Hi, want[k], "%g µm, phase %d", size, k)
			assert.LessOrEqual(t, f.Volume.Lo, 100*v[k])
			assert.GreaterOrEqual(t, f.Volume.Hi, 100*v[k])
			assert.InDelta(t, p.Weight.Percent, f.Weight.Percent, 1e-9, "the value is that of a fine powder")
			assert.Equal(t, p.Weight, f.Fine, "what a powder would be")
			assert.Equal(t, p.Coarse, f.Coarse)
			for _, reading := range []quantify.Value{p.Weight, s.Weight} {
				assert.LessOrEqual(t, f.Weight.Lo, reading.Lo)
				assert.GreaterOrEqual(t, f.Weight.Hi, reading.Hi)
			}
			assert.InEpsilon(t, math.Abs(p.Coarse.Percent-p.Weight.Percent)/math.Sqrt(3), sourceU(f, "absorption, powder or section not stated"), 1e-9)
		}
	}
}

// TestEitherIsAPowder: where nothing depends on it, or a section cannot be meant, the answer is that of a powder.
func TestEitherIsAPowder(t *testing.T) {
	perhaps := &quantify.Section{Perhaps: true}
	same := func(name string, in quantify.Input) {
		powder := quantify.Run(in)
		in.Section = perhaps
		a := quantify.Run(in)
		assert.Equal(t, quantify.FinePowder, a.Absorption, name)
		for k := range a.Fractions {
			assert.Equal(t, powder.Fractions[k].Weight, a.Fractions[k].Weight, name)
		}
	}
	same("all absorb alike", powderOf(t, 20, 20))
	grains := powderOf(t, 200, 20)
	grains.Grain = []float64{5, 5}
	same("grains stated", grains)
	through := powderOf(t, 200, 20)
	fit := *through.Fit
	fit.Setup.Instrument.Geometry = xrd.Transmission
	through.Fit = &fit
	same("transmission", through)
	unknown := powderOf(t, 200, 0)
	same("absorption not known", unknown)
}

// TestEitherBesideStandard: an external standard tells what was scanned, and its intervals hold both readings, too.
func TestEitherBesideStandard(t *testing.T) {
	in := powderOf(t, 200, 20)
	in.External = &quantify.External{K: 1e4, U: 50}
	powder := quantify.Run(in)
	in.Section = &quantify.Section{}
	section := quantify.Run(in)
	in.Section = &quantify.Section{Perhaps: true}
	a := quantify.Run(in)
	require.NotNil(t, a.Amorphous)
	assert.LessOrEqual(t, a.Amorphous.Lo, min(powder.Amorphous.Lo, section.Amorphous.Lo))
	assert.GreaterOrEqual(t, a.Amorphous.Hi, max(powder.Amorphous.Hi, section.Amorphous.Hi))
	for k := range a.Fractions {
		assert.LessOrEqual(t, a.Fractions[k].Original.Lo, section.Fractions[k].Original.Lo)
		assert.GreaterOrEqual(t, a.Fractions[k].Original.Hi, section.Fractions[k].Original.Hi)
	}
}

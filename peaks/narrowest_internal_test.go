package peaks

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A width curve that is laid through peaks in the middle may dive at the ends of a scan: there the widths that peaks have count, and
// peaks that the end cuts do not. In the middle the curve does.
func TestNarrowest(t *testing.T) {
	curve := WidthCurve{U: 0, V: 0.04, W: 0.004, Least: 0.02, Most: 1} // 0.10° at 20°, 0.16° at 60°
	found := func(list ...Peak) Found { return Found{Width: curve, Peaks: list} }
	w, at := found(Peak{TwoTheta: 20, FWHM: 0.15, FWHMU: 0.005}, Peak{TwoTheta: 60, FWHM: 0.165, FWHMU: 0.005}).narrowest(10, 70)
	assert.InDelta(t, 0.14, w, 1e-9, "surely wider than the curve says")
	assert.InDelta(t, 20, at, 0)
	w, _ = found(Peak{TwoTheta: 20, FWHM: 0.15, FWHMU: 0.05}).narrowest(10, 70)
	assert.InDelta(t, curve.At(20), w, 1e-12, "not surely")
	w, at = found(Peak{TwoTheta: 10.05, FWHM: 0.05, FWHMU: 0.001}, Peak{TwoTheta: 60, FWHM: 0.16, FWHMU: 0.01}, Peak{TwoTheta: 69.9, FWHM: 0.04, FWHMU: 0.001}).narrowest(10, 70)
	assert.InDelta(t, curve.At(60), w, 1e-12, "what the ends cut says nothing")
	assert.InDelta(t, 60, at, 0)
}

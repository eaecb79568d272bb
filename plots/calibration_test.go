package plots

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/calibrate"
	"phasetally/xrd/result"
)

// calibration is an invented result.
func calibration(t testing.TB) result.Calibration {
	t.Helper()
	std, err := calibrate.FindStandard("silicon")
	require.NoError(t, err)
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	r := result.Calibration{Standard: std.Name(), Radiation: cu, Range: [2]float64{20, 140}}
	for at := 25.0; at < 140; at += 11 {
		r.Lines = append(r.Lines, result.CalibrationLine{Certified: at, Delta: 0.08 - 0.0005*at, ObservedU: 0.001, FWHM: 0.07 + 0.0006*at, FWHMU: 0.002})
	}
	for at := 20.0; at <= 140; at++ {
		r.Curve = append(r.Curve, result.CalibrationPoint{TwoTheta: at, FWHM: 0.07 + 0.0006*at, FWHMU: 0.001, Shift: 0.08 - 0.0005*at, ShiftU: 0.0008})
	}
	return r
}

func TestCalibration(t *testing.T) {
	r := calibration(t)
	for name, style := range styles() {
		f, err := Calibration(r, style)
		require.NoError(t, err, name)
		all := strings.Join(f.Texts(), "|")
		for _, want := range []string{"Calibration with silicon (SRM 640f)", "FWHM of Kα1 (°)", "Δ2θ (°)", "2θ (°), Cu Kα", "observed, 95 %", "fitted, 95 % band", "|100|"} {
			assert.Contains(t, all, want, name)
		}
		assert.Contains(t, f.Description(), fmt.Sprintf("%d lines", len(r.Lines)))
		w, h := f.Size()
		for _, it := range items(f) {
			if it.label != nil {
				b := it.label.box()
				assert.True(t, b.left >= 0 && b.top >= 0 && b.right <= w && b.bottom <= h, "%s: %q leaves the page", name, it.label.text)
				if style.Medium == Slide {
					assert.GreaterOrEqual(t, it.label.size, 14.0, it.label.text)
				}
			}
		}
		svg, err := f.SVG()
		require.NoError(t, err)
		requireXML(t, svg)
	}
}

// TestCalibrationPlaces: a dot stands where its line's width says, the scale being read off two ticks.
func TestCalibrationPlaces(t *testing.T) {
	r := calibration(t)
	f, err := Calibration(r, Style{})
	require.NoError(t, err)
	tick := map[string]label{}
	for _, it := range items(f) {
		if it.label != nil {
			if _, first := tick[it.label.text]; !first { // those of the upper panel come first
				tick[it.label.text] = *it.label
			}
		}
	}
	lo, hi := tick["0"], tick["0.1"]
	require.NotZero(t, hi.y)
	var dots []point
	for _, it := range items(f) {
		if it.shape != nil && it.shape.fill.A > 0 && len(it.shape.runs[0]) == 16 {
			var c point
			for _, p := range it.shape.runs[0] {
				c.x, c.y = c.x+p.x/16, c.y+p.y/16
			}
			dots = append(dots, c)
		}
	}
	require.Len(t, dots, 1+2*len(r.Lines), "the key and two panels")
	small := Style{}.measure().small
	for i, l := range r.Lines {
		y := lo.y - 0.35*small + (hi.y-lo.y)*l.FWHM/0.1
		assert.InDelta(t, y, dots[1+i].y, 0.05)
	}
}

// TestCalibrationOddNumbers: unknown numbers and empty results still make a figure.
func TestCalibrationOddNumbers(t *testing.T) {
	odd := calibration(t)
	odd.Lines[1].FWHM, odd.Lines[2].Delta, odd.Lines[3].ObservedU = math.NaN(), math.Inf(1), math.Inf(1)
	odd.Curve[5].ShiftU, odd.Curve[6].FWHM = math.NaN(), math.NaN()
	for name, r := range map[string]result.Calibration{"odd": odd, "empty": {}} {
		f, err := Calibration(r, Style{})
		require.NoError(t, err, name)
		svg, err := f.SVG()
		require.NoError(t, err, name)
		requireXML(t, svg)
		for _, it := range items(f) {
			if it.shape == nil {
				continue
			}
			for _, run := range it.shape.runs {
				for _, p := range run {
					require.False(t, math.IsNaN(p.x+p.y) || math.IsInf(p.x+p.y, 0), "%s: point %v", name, p)
				}
			}
		}
	}
}

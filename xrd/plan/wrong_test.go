package plan_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/plan"
	"phasetally/xrd/result"
)

// learned is what a plan says of an earlier scan of copper and cuprite, 20° to 100° in steps of 0.01°, 2 s each, with one caution.
func learned(t *testing.T, c xrd.Caution, change func(*plan.Request, *result.Document)) result.Plan {
	t.Helper()
	q := request(t, []float64{80, 20}, "copper", "cuprite")
	q.Instrument.Radius, q.Section = 200, "powder"
	flat := make([]float64, 4001)
	doc := result.Document{Scan: result.Scan{Sample: "before", Radiation: "Cu", Wavelength: q.Tubes[0].Radiation.KAlpha1, Points: 8001, TwoThetaMin: 20, TwoThetaMax: 100, Step: 0.01,
		CountingTimeS: result.Positive(2)}}
	if c.Code != "" {
		doc.Cautions = []xrd.Caution{c}
	}
	if change != nil {
		change(&q, &doc)
	}
	q.Earlier = &result.Analysis{Document: doc, Curves: result.Curves{Background: flat}}
	p, err := plan.Run(context.Background(), q)
	require.NoError(t, err)
	require.NotNil(t, p.Earlier)
	return p
}

func grave(code, key string, v float64) xrd.Caution {
	return xrd.Caution{Code: code, Severity: xrd.SeverityCaution, Text: "What was wrong.", Remedy: "The usual.", Evidence: map[string]any{key: v}}
}

// What to change is said with the numbers of the earlier scan. By hand: 500 net counts in 2 s make 10 000 in 40 s, 8001 points of which
// take 89 h; 0.2 mm shift a line at 40° by −2·0.2 cos 20°/200 = −0.108° (PRACTICE.md 1.1); grains that scatter by 30 % scatter by
// 30/√5 = 13 % when five times as many diffract, and (13.4/5)² = 7.2 spots bring 5 %; of the beam that a slit of 1° puts on the
// specimen from 60° on, ½° lies on it from 2 asin(sin 30°/2) = 29.0° on and ¼° from 14.4° on. Cuprite 111 is at 36.4°.
func TestWhatToChange(t *testing.T) {
	for name, c := range map[string]struct {
		caution xrd.Caution
		change  func(*plan.Request, *result.Document)
		want    []string
	}{
		"counts":      {grave("counts-too-low", "net_counts", 500), nil, []string{"Count 40 s per step instead of 2 s", "89 h"}},
		"height":      {grave("displaced", "displacement_mm", 0.2), nil, []string{"Raise the surface by 0.20 mm", "-0.108°"}},
		"proud":       {grave("displaced", "displacement_mm", -0.2), nil, []string{"Lower the surface by 0.20 mm", "+0.108°"}},
		"grains":      {grave("coarse-grain", "relative_scatter", 0.3), nil, []string{"from 30 % to about 13 %", "8 spots"}},
		"slit":        {grave("beam-overspill", "full_above_two_theta", 60), func(_ *plan.Request, d *result.Document) { d.Scan.Slit = "fixed:1" }, []string{"A slit of 0.5° instead of 1°", "29.0°", "50 %"}},
		"no slit":     {grave("beam-overspill", "full_above_two_theta", 60), nil, []string{"A slit 0.62 times as wide", "1.6 times as long"}},
		"no way":      {grave("beam-overspill", "full_above_two_theta", 60), func(_ *plan.Request, d *result.Document) { d.Scan.Slit = "fixed:0.125" }, []string{"No slit that is sold", "a piece"}},
		"saturated":   {grave("saturation", "level", 100), nil, []string{"gave up at 50 counts/s", "Attenuate the beam"}},
		"not again":   {grave("saturation", "level", 1e7), nil, []string{"gave up at 5000000 counts/s", "well below"}},
		"range":       {grave("range-too-short", "two_theta_max", 40), nil, []string{"Scan from 33° to"}},
		"halo":        {grave("amorphous-halo", "two_theta", 22), nil, []string{"blank of the same mount", "20° to 100°", "2 s"}},
		"mount known": {grave("amorphous-halo", "two_theta", 22), func(q *plan.Request, _ *result.Document) { q.Mount = "epoxy" }, []string{"The usual."}},
		"no evidence": {xrd.Caution{Code: "displaced", Severity: xrd.SeverityCaution, Remedy: "The usual."}, nil, []string{"The usual."}},
		"no number":   {grave("counts-too-low", "net_counts", math.NaN()), nil, []string{"The usual."}},
		"other":       {grave("texture", "r", 0.5), nil, []string{"The usual."}},
	} {
		wrong := learned(t, c.caution, c.change).Earlier.Wrong
		require.Len(t, wrong, 1, name)
		assert.Equal(t, c.caution.Code, wrong[0].Code, name)
		for _, w := range c.want {
			assert.Contains(t, wrong[0].Change, w, name)
		}
	}
}

// A note is a fault only where another scan could do without what it tells; what follows from another caution is none.
func TestWhatIsNoFault(t *testing.T) {
	note := func(code string) xrd.Caution {
		return xrd.Caution{Code: code, Severity: xrd.SeverityNote, Text: "A note.", Remedy: "The usual."}
	}
	assert.Empty(t, learned(t, note("sum-assumption"), nil).Earlier.Wrong)
	assert.Len(t, learned(t, note("k-beta"), nil).Earlier.Wrong, 1)
	follows := grave("coarse-grain", "relative_scatter", 0.3)
	follows.Text = "Lines scatter. It follows from another caution: layered."
	assert.Empty(t, learned(t, follows, nil).Earlier.Wrong)
	assert.Empty(t, learned(t, xrd.Caution{}, nil).Earlier.Wrong, "nothing")
}

// A coarse step is told once, with the step that is suggested and a time that shows as much in as long a scan: the more points, the less time at each.
func TestCoarseStepIsToldOnce(t *testing.T) {
	coarse := func(_ *plan.Request, d *result.Document) { d.Scan.Step = 0.05 }
	for _, c := range []xrd.Caution{{}, grave("step-too-coarse", "step", 0.05)} {
		p := learned(t, c, coarse)
		require.Len(t, p.Earlier.Wrong, 1)
		assert.Contains(t, p.Earlier.Wrong[0].Change, "instead of 0.05°")
		s := p.Suggested.Step
		require.Less(t, s, 0.05)
		require.Greater(t, s, 0.0)
		assert.Contains(t, p.Earlier.Wrong[0].Change, fmt.Sprintf("Counting %.2g s instead of 2 s at each takes as long", 2*s/0.05))
	}
}

// Where the specimen glows, a tube that sees smaller amounts is named first; with the best tube, or with one only, the usual remedy is told.
func TestAnotherTubeForWhatGlows(t *testing.T) {
	glow := grave("fluorescence", "level", 500)
	wrong := func(radiations ...string) string {
		w := learned(t, glow, func(q *plan.Request, d *result.Document) {
			q.WeightPercent, q.Tubes = []float64{90, 10}, nil
			for _, r := range radiations {
				q.Tubes = append(q.Tubes, tube(t, r, "iron-alpha", "cementite"))
			}
			d.Scan.Radiation, d.Scan.Wavelength = q.Tubes[0].Radiation.Name, q.Tubes[0].Radiation.KAlpha1
		}).Earlier.Wrong
		require.Len(t, w, 1)
		return w[0].Change
	}
	assert.Equal(t, "Co radiation shows smaller amounts of the minor phases than Cu does at the same count rate; else: The usual.", wrong("Cu", "Co"))
	assert.Equal(t, "The usual.", wrong("Co", "Cu"))
	assert.Equal(t, "The usual.", wrong("Cu"))
}

// A limit of 2 wt% falls to the wanted 0.5 in sixteen times the 2 s; that of a phase that was looked for counts, too, others do not.
func TestLimitsAndIntervalsMissed(t *testing.T) {
	p := learned(t, xrd.Caution{}, func(q *plan.Request, d *result.Document) {
		q.WantedLimit = 0.5
		d.Phases = []result.Phase{{ID: "copper", Name: "copper", DetectionLimit: result.Positive(0.4)}, {ID: "cuprite", Name: "cuprite", DetectionLimit: result.Positive(2)}}
		d.NotDetected = []result.NotDetected{{ID: "tenorite", Name: "tenorite", DetectionLimit: result.Positive(1), Asked: true}, {ID: "gold", Name: "gold", DetectionLimit: result.Positive(9)}}
	})
	require.Len(t, p.Earlier.Wrong, 2)
	assert.Contains(t, p.Earlier.Wrong[0].Text, "cuprite could hide up to 2 wt%")
	assert.Contains(t, p.Earlier.Wrong[0].Change, "Count 32 s per step instead of 2 s, 71 h in all")
	assert.Contains(t, p.Earlier.Wrong[1].Text, "tenorite was not seen")
	assert.Contains(t, p.Earlier.Wrong[1].Change, "Count 8 s")

	half := func(wanted float64) []result.EarlierFault {
		return learned(t, xrd.Caution{}, func(q *plan.Request, d *result.Document) {
			q.WantedHalf = wanted
			d.Phases = []result.Phase{{ID: "cuprite", Name: "cuprite", WeightPercentLo: result.Positive(17), WeightPercentHi: result.Positive(23)}}
		}).Earlier.Wrong
	}
	assert.Empty(t, half(4))
	never := half(1e-3)
	require.Len(t, never, 1)
	assert.Contains(t, never[0].Text, "± 3 wt%")
	assert.Contains(t, never[0].Change, "No counting time")
	some := half(2.9)
	require.Len(t, some, 1)
	assert.Contains(t, some[0].Change, "Count ")
}

// Lines twice as wide as those of a calibrated instrument are worth a word; those of one that is only assumed are not.
func TestWideLinesOfACalibratedInstrument(t *testing.T) {
	for calibrated, want := range map[bool]int{true: 1, false: 0} {
		wrong := learned(t, xrd.Caution{}, func(q *plan.Request, d *result.Document) {
			q.Instrument.Calibrated = calibrated
			for _, at := range []float64{30, 43, 50, 74} {
				d.Peaks = append(d.Peaks, result.Peak{TwoTheta: at, FWHM: 2 * q.Instrument.FWHM(at)})
			}
		}).Earlier.Wrong
		require.Len(t, wrong, want)
		if calibrated {
			assert.Contains(t, wrong[0].Text, "2.0 times as wide")
		}
	}
}

package report_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// planned is an invented plan of two phases, of which the scan would show one, with everything that a plan can say.
func planned() result.Plan {
	return result.Plan{
		Specimen: result.PlannedSpecimen{LengthMM: ptr(10), LayerUM: ptr(2.5)},
		Scan: result.PlannedScan{Radiation: "Cu", RadiusMM: 200, TwoThetaMin: 20, TwoThetaMax: 100, Step: 0.02, TimeS: 1.5, TotalHours: 1.667,
			Rate: 5000, Background: 12.5, From: "a guess"},
		Footprint: result.Footprint{FullAbove: ptr(40.3), Rows: []result.FootprintRow{{TwoTheta: 20, LengthMM: 20.11, Share: 0.497}, {TwoTheta: 40, LengthMM: 10.2, Share: 0.98}},
			Mount: []result.MountLine{{Material: "epoxy", Kind: "halo", TwoTheta: 19.5, Below: true}, {Material: "tin", Kind: "line", TwoTheta: 30.64}}},
		Phases: []result.PlannedPhase{
			{ID: "corundum", Name: "corundum", WeightPercent: 95, Strongest: 43.35, DepthUM: [3]float64{12.34, 53, 81.6}, InMixUM: [3]float64{11, 48, 74}, LayerShare: ptr(0.256),
				Lines: []result.PlannedLine{{HKL: "0 1 2", TwoTheta: 25.577, Free: true}, {HKL: "1 0 4", TwoTheta: 35.15}, {HKL: "1 1 3", TwoTheta: 43.35, Free: true}},
				Free:  2, Limit: ptr(0.431), Half: ptr(1.26), HalfFloor: ptr(0.5), TimeForLimit: ptr(3.04), TimeForHalf: ptr(120.6),
				Grains: &result.GrainCount{Irradiated: 1.2e6, Diffracting: 843.2, Scatter: 0.034, Spinning: 0.012, Spots: 3}},
			{ID: "quartz", Name: "quartz", WeightPercent: 0.2, Strongest: 26.64, DepthUM: [3]float64{5, 21, 33}, InMixUM: [3]float64{11, 48, 74}, Limit: ptr(0.3)},
		},
		Tubes:      []result.PlannedTube{{Radiation: "Cu", TwoThetaMin: 20, TwoThetaMax: 100, Glowing: []string{"Fe", "Co"}, Fluorescence: 41.7, Limits: []*float64{ptr(0.431), nil}}},
		Absorption: result.PlannedAbsorption{Advice: "Grains below 1 µm do not matter."},
		Earlier:    &result.EarlierScan{Sample: "bar 1", Wrong: []result.EarlierFault{{Code: "displaced", Text: "The surface was low.", Change: "Mount it flush."}}},
		Warnings:   []string{"The specimen is short."},
		Checklist:  []string{"Mount it flush.", "Scan the blank."},
		Drawn:      resulttest.Mixture(1),
	}
}

const planAsText = `This scan would show corundum 95 ± 1.3 wt%, and not quartz (0.2 wt%, limit 0.3).
Cu Kα, 20° to 100°, step 0.02°, 1.5 s per step (1.7 h), slit not stated, radius 200 mm. Rates: 5000 counts/s at the top of corundum 113, background 12.5 counts/s (a guess).

Caution: The specimen is short.

What the scan will show (wt%; half widths of 95 % intervals; s per step for what is wanted)
       phase  wt%    ±  ± at best  limit  free lines  s for limit  s for ±
    corundum   95  1.3        0.5   0.43           2            3      121
      quartz  0.2    –          –    0.3           0            –        –

Depth (µm) of 50, 95 and 99 % of the signal at the strongest line, in the phase and in the mean of the specimen
       phase     2θ  50 %  95 %  99 %  50 % (mean)  95 %  99 %  a layer of 2.5 µm gives
    corundum  43.4°    12    53    82           11    48    74                     26 %
      quartz  26.6°     5    21    33           11    48    74

Footprint
       2θ  mm lit  of the beam on the specimen
      20°    20.1                         50 %
      40°    10.2                         98 %
    40.3°               all of it from here on

What the mount adds
    material  what     2θ  where the beam is longer
       epoxy  halo  19.5°                       yes
         tin  line  30.6°                        no

Grains
       phase  irradiated  diffracting  scatter  spinning  spots for 5 %
    corundum     1200000          843      3 %       1 %              3

Free lines
       phase                      2θ (h k l)
    corundum  25.58° (0 1 2), 43.35° (1 1 3)
      quartz                            none

Tubes, at the same count rate of corundum
    tube     range  fluorescing  counts/s  limit corundum  limit quartz
      Cu  20°–100°        Fe Co        42            0.43             –

Absorption in grains: Grains below 1 µm do not matter.

The earlier scan of bar 1:
  The surface was low.
    → Mount it flush. [displaced]

At the bench
  1. Mount it flush.
  2. Scan the blank.
`

// Every table of a plan, rounded as people read it; unknown numbers are dashes.
func TestPlanAsText(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, report.PlanText(&b, planned()))
	var lines []string
	for l := range strings.Lines(b.String()) {
		lines = append(lines, strings.TrimRight(l, " \n"))
	}
	assert.Equal(t, planAsText, strings.Join(lines, "\n")+"\n")
}

// A table of which there is no row is left out with its title; an earlier scan without faults is said to have none.
func TestPlanOfLittle(t *testing.T) {
	p := result.Plan{Earlier: &result.EarlierScan{}, Checklist: []string{"Nothing."}}
	var b bytes.Buffer
	require.NoError(t, report.PlanText(&b, p))
	text := b.String()
	for _, title := range []string{"Footprint", "Grains", "Tubes", "Free lines", "Depth", "What the mount adds", "Absorption", "Caution"} {
		assert.NotContains(t, text, title)
	}
	assert.Contains(t, text, "The earlier scan:\n  nothing went wrong that its analysis knows of\n")
	assert.NotContains(t, text, "NaN")
	p.Earlier, p.Footprint.FullAbove, p.Footprint.Rows = nil, ptr(0), []result.FootprintRow{{TwoTheta: 5, LengthMM: 1, Share: 1}}
	b.Reset()
	require.NoError(t, report.PlanText(&b, p))
	assert.NotContains(t, b.String(), "earlier")
	assert.NotContains(t, b.String(), "from here on", "it is on the specimen everywhere")
}

// What a scan would show is what lies above its limit: at the limit it is shown, with an unknown limit it is not.
func TestPlanSentence(t *testing.T) {
	phase := func(wt float64, limit *float64) result.PlannedPhase {
		return result.PlannedPhase{Name: "copper", WeightPercent: wt, Limit: limit, Half: ptr(0.25)}
	}
	for _, c := range []struct {
		phases []result.PlannedPhase
		want   string
	}{
		{nil, "This scan would show none of the phases."},
		{[]result.PlannedPhase{phase(1, nil)}, "This scan would show none of the phases."},
		{[]result.PlannedPhase{phase(1, ptr(1.01))}, "This scan would show none of the phases."},
		{[]result.PlannedPhase{phase(1, ptr(1))}, "This scan would show copper 1 ± 0.25 wt%."},
		{[]result.PlannedPhase{phase(2, ptr(1)), phase(3, ptr(1)), phase(0.5, ptr(0.6))}, "This scan would show copper 2 ± 0.25 wt% and copper 3 ± 0.25 wt%, and not copper (0.5 wt%, limit 0.6)."},
	} {
		assert.Equal(t, c.want, report.PlanSentence(result.Plan{Phases: c.phases}))
	}
}

// Names from files of the user's own steer neither the terminal nor the page.
func TestPlanOfHostileNames(t *testing.T) {
	const name = "evil\x1b[2J\u202e<script>"
	p := planned()
	for i := range p.Phases {
		p.Phases[i].Name = name
		p.Drawn.Document.Phases[i].Name = name
	}
	p.Footprint.Mount[0].Material, p.Earlier.Sample, p.Scan.From, p.Scan.Slit = name, name, name, name
	p.Warnings, p.Checklist, p.Absorption.Advice = []string{name}, []string{name}, name
	p.Earlier.Wrong[0] = result.EarlierFault{Code: name, Text: name, Change: name}
	var b bytes.Buffer
	require.NoError(t, report.PlanText(&b, p))
	assert.NotContains(t, b.String(), "\x1b")
	assert.NotContains(t, b.String(), "\u202e")
	page, err := report.PlanHTML(p, plots.Style{})
	require.NoError(t, err)
	assert.False(t, bytes.Contains(page, []byte("<script>")), "page")
	assert.False(t, bytes.Contains(page, []byte("\x1b")), "page")
}

// The page says what the text says: the sentence as its heading, every table with a head a column, every warning and every step; it has the three
// figures, each with a caption, and is well-formed.
func TestPlanPage(t *testing.T) {
	p := planned()
	page, err := report.PlanHTML(p, plots.Style{})
	require.NoError(t, err)
	html := string(page)
	assert.Contains(t, html, "<h1><bdi>"+report.PlanSentence(p)+"</bdi></h1>")
	for _, want := range append(append([]string{}, p.Warnings...), "Mount it flush.", "Scan the blank.", "The surface was low.", "displaced", p.Absorption.Advice, "calculated, not measured") {
		assert.Contains(t, html, want)
	}
	assert.Equal(t, 3, strings.Count(html, "<figure"))
	assert.Equal(t, 3, strings.Count(html, "<figcaption>"))
	assert.NotContains(t, html, "<figcaption></figcaption>")
	assert.Equal(t, 7, strings.Count(html, "<table>"))
	for _, table := range strings.Split(html, "<table>")[1:] {
		table, _, _ = strings.Cut(table, "</table>")
		heads := strings.Count(table, `<th scope="col">`)
		require.Positive(t, heads)
		rows := strings.Split(table, "<tr>")[2:]
		for _, row := range rows {
			assert.Equal(t, 1, strings.Count(row, `<th scope="row">`))
			assert.LessOrEqual(t, strings.Count(row, "<td")+1, heads, row)
		}
	}
	wellFormed(t, page)

	p.Footprint, p.Earlier = result.Footprint{}, nil
	page, err = report.PlanHTML(p, plots.Style{})
	require.NoError(t, err)
	assert.Equal(t, 2, strings.Count(string(page), "<figure"), "no footprint without a slit")
	assert.NotContains(t, string(page), "went wrong")
	p.Drawn = result.Analysis{}
	_, err = report.PlanHTML(p, plots.Style{})
	assert.ErrorIs(t, err, plots.ErrNoPoints)
}

// wellFormed reads a page as HTML: every element that is opened is closed.
func wellFormed(t *testing.T, page []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return
		} else if err != nil {
			require.NoError(t, err)
		}
	}
}

// A writer that fails is reported.
func TestPlanTextThatCannotBeWritten(t *testing.T) {
	assert.ErrorIs(t, report.PlanText(full{}, planned()), errFull)
}

var errFull = errors.New("no room")

// full takes nothing.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }

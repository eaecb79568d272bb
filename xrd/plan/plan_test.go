package plan_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/plan"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
)

// tube computes phases of the starter collection.
func tube(t testing.TB, name string, ids ...string) plan.Tube {
	t.Helper()
	r, err := xrd.ParseRadiation(name)
	require.NoError(t, err)
	out := plan.Tube{Radiation: r}
	for _, id := range ids {
		n := len(out.Phases)
		for _, rec := range refdata.Starter() {
			if rec.ID == id {
				s, err := structure.FromRecord(rec)
				require.NoError(t, err)
				p, err := s.Phase(refdata.Beam{Radiation: r})
				require.NoError(t, err)
				out.Phases = append(out.Phases, p)
			}
		}
		require.Len(t, out.Phases, n+1, id)
	}
	return out
}

func request(t testing.TB, weights []float64, ids ...string) plan.Request {
	t.Helper()
	ins := xrd.DefaultInstrument()
	return plan.Request{WeightPercent: weights, Tubes: []plan.Tube{tube(t, "Cu", ids...)}, Instrument: ins, Lo: 20, Hi: 100, Step: 0.02, Time: 1, Rate: 4000, Background: 20}
}

func run(t testing.TB, q plan.Request) result.Plan {
	t.Helper()
	p, err := plan.Run(context.Background(), q)
	require.NoError(t, err)
	return p
}

// TestFootprint: R 240 mm, α 1°: 24 mm at 20°, 16 at 30°, 12 at 40°, 8.4 at 60°; 10 mm are overfilled below 49°, 15 below 32°, 25
// below 19° (PRACTICE.md 1.1, calculated there).
func TestFootprint(t *testing.T) {
	q := request(t, []float64{100}, "copper")
	q.Instrument.Radius, q.Instrument.Slit = 240, xrd.Slit{Mode: xrd.SlitFixed, Value: 1}
	for at, want := range map[float64]float64{20: 24, 30: 16, 40: 12, 60: 8.4} {
		assert.InDelta(t, want, plan.Lit(at, q.Instrument), 0.3)
	}
	for length, want := range map[float64]float64{10: 49, 15: 32, 25: 19} {
		q.Length = length
		p := run(t, q)
		require.NotNil(t, p.Footprint.FullAbove)
		assert.InDelta(t, want, *p.Footprint.FullAbove, 0.6, "%g mm", length)
	}
	// Six wires of 2 mm cut across lie in a row of 12 mm; cut along they are 12 mm wide.
	q.Length, q.Wire, q.Pieces, q.Section = 0, 2, 6, "transverse"
	p := run(t, q)
	assert.InDelta(t, 12.0, *p.Specimen.LengthMM, 1e-9)
	assert.InDelta(t, 0.2, p.Footprint.AcrossShare, 1e-9)
	q.Length, q.Section = 25, "longitudinal"
	p = run(t, q)
	assert.InDelta(t, 12.0, *p.Specimen.WidthMM, 1e-9)
	assert.InDelta(t, 1.0, p.Footprint.AcrossShare, 1e-9)
	// An automatic slit lights the same length everywhere.
	q = request(t, []float64{100}, "copper")
	q.Instrument.Slit, q.Length = xrd.Slit{Mode: xrd.SlitAutomatic, Value: 12}, 10
	p = run(t, q)
	assert.Nil(t, p.Footprint.FullAbove)
	assert.InDelta(t, 10.0/12, p.Footprint.Rows[2].Share, 1e-9)
}

// TestDepth: depths of 95 % in µm at 30° and 90° (PRACTICE.md 1.1, calculated there), and a numerical integration of the signal.
func TestDepth(t *testing.T) {
	for id, want := range map[string][2]float64{"aluminium": {29, 79}, "silicon": {26, 72}, "corundum": {31, 84}, "copper": {8, 23}, "tungsten": {1.2, 3.3}, "nb3sn": {2.5, 6.8}, "ybco-123": {3.6, 9.9}} {
		mu := tube(t, "Cu", id).Phases[0].MuLinear()
		assert.InEpsilon(t, want[0], xrd.InformationDepth(30, mu, 0.95), 0.06, id)
		assert.InEpsilon(t, want[1], xrd.InformationDepth(90, mu, 0.95), 0.06, id)
	}
	const mu, angle = 460.0, 43.3
	signal := func(depth float64) float64 { // µm
		return quad.Fixed(func(z float64) float64 { return math.Exp(-2 * mu * z * 1e-4 / math.Sin(xrd.Radians(angle)/2)) }, 0, depth, 60, nil, 0)
	}
	all := signal(200)
	for _, share := range []float64{0.5, 0.95, 0.99} {
		d := xrd.InformationDepth(angle, mu, share)
		assert.InDelta(t, share, signal(d)/all, 1e-6)
		assert.InDelta(t, share, plan.LayerShare(angle, mu, d), 1e-12)
	}
}

// TestGrains: 10 × 10 mm, 4 µm deep, m = 8: scatter of 3 % for grains of 5 µm, 9 % for 10 µm, 26 % for 20 µm (PRACTICE.md 1.1).
func TestGrains(t *testing.T) {
	for diameter, want := range map[float64]float64{5: 0.03, 10: 0.09, 20: 0.26} {
		g := plan.GrainStatistics(diameter*2/3, 1, 100, 4, 8)
		assert.InDelta(t, want, g.Scatter, 0.005)
		assert.Less(t, g.Spinning, g.Scatter)
	}
	assert.Equal(t, 1, plan.GrainStatistics(0.5, 1, 100, 4, 8).Spots)
	assert.Greater(t, plan.GrainStatistics(30, 1, 100, 4, 8).Spots, 5)
}

// TestFluorescence: iron glows under Cu Kα and not under Co Kα, copper does not under Cu Kα, and the glow of pure iron without
// energy discrimination is a good part of the top of corundum 113 (common experience: Cu Kα scans of steel have peaks little
// higher than their background).
func TestFluorescence(t *testing.T) {
	ins := xrd.DefaultInstrument()
	ratio := func(radiation string, weights []float64, ids ...string) float64 {
		tb := tube(t, radiation, ids...)
		r, _ := plan.FluorescenceRatio(tb.Phases, weights, tb.Radiation, ins)
		return r
	}
	iron := ratio("Cu", []float64{100}, "iron-alpha")
	assert.Greater(t, iron, 0.1)
	assert.Less(t, iron, 0.6)
	assert.Zero(t, ratio("Co", []float64{100}, "iron-alpha"))
	assert.Zero(t, ratio("Cu", []float64{100}, "copper"))
	diluted := ratio("Cu", []float64{10, 90}, "iron-alpha", "corundum")
	assert.Less(t, diluted, iron)
	assert.Greater(t, diluted, iron/10, "what dilutes it absorbs less than iron")
}

// TestTimeScaling: four times the time, half the limit; the wanted limit costs the time that it is told to.
func TestTimeScaling(t *testing.T) {
	q := request(t, []float64{95, 5}, "copper", "cuprite")
	q.WantedLimit = 0.05
	now := run(t, q)
	q.Time *= 4
	later := run(t, q)
	assert.InEpsilon(t, 2, *now.Phases[1].Limit / *later.Phases[1].Limit, 0.15, "and a little more, since its own counts weigh less")
	q.Time, q.WantedLimit = 1, *now.Phases[1].Limit/3 // nine times the time, not three
	q.Time = *run(t, q).Phases[1].TimeForLimit
	assert.InEpsilon(t, q.WantedLimit, *run(t, q).Phases[1].Limit, 0.25) // means of three counted scans each
}

// counted analyses one scan of a request as an analysis of named phases does.
func counted(t testing.TB, q plan.Request, weights []float64, seed uint64) quantify.Answer {
	t.Helper()
	j := simulate.Job{Radiation: q.Tubes[0].Radiation, Instrument: q.Instrument, Lo: q.Lo, Hi: q.Hi, Step: q.Step, Time: q.Time, Rate: q.Rate, Background: q.Background}
	for i, p := range q.Tubes[0].Phases {
		for n, l := range p.Lines { // an analysis computes lines up to 3° above the range
			if l.TwoTheta > q.Hi+3 {
				p.Lines = p.Lines[:n:n]
				break
			}
		}
		q.Tubes[0].Phases[i] = p
		j.Components = append(j.Components, simulate.Component{Phase: p, WeightPercent: weights[i]})
	}
	scan, err := simulate.Run(j)
	require.NoError(t, err)
	sigma := make([]float64, len(scan.Expected))
	counts := simulate.Count(scan.Expected, seed)
	for i, y := range counts {
		sigma[i] = math.Sqrt(math.Max(1, y))
	}
	fit, err := quantify.FitKnown(context.Background(), pattern.Setup{TwoTheta: scan.TwoTheta, Intensity: counts, Sigma: sigma, Gain: 1, Radiation: j.Radiation,
		Instrument: j.Instrument, Phases: q.Tubes[0].Phases})
	require.NoError(t, err)
	return quantify.Run(quantify.Input{Fit: fit, Roles: make([]quantify.Role, len(weights)), Threshold: 5})
}

// TestHalfWidthIsWhatAnAnalysisStates over some plans; .ci/quality_plan.py does it with whole programs over a hundred.
func TestHalfWidthIsWhatAnAnalysisStates(t *testing.T) {
	for k, m := range []struct {
		ids     []string
		weights []float64
	}{{[]string{"copper", "cu3sn-epsilon"}, []float64{80, 20}}, {[]string{"corundum", "fluorite", "zincite"}, []float64{60, 30, 10}}, {[]string{"silicon", "quartz"}, []float64{97, 3}}} {
		q := request(t, m.weights, m.ids...)
		q.Section = "powder"
		p := run(t, q)
		for i := range m.ids {
			var logs float64
			for seed := range uint64(5) {
				w := counted(t, q, m.weights, 100*uint64(k)+seed).Fractions[i].Weight
				logs += math.Log((w.Hi-w.Lo)/2) / 5
			}
			assert.InEpsilon(t, math.Exp(logs), *p.Phases[i].Half, 0.2, m.ids[i])
		}
	}
}

func TestGrainsRead(t *testing.T) {
	q := request(t, []float64{50, 50}, "tungsten", "copper")
	p := run(t, q)
	assert.InDelta(t, 12.5, *p.Phases[0].CoarseReads, 0.7) // PRACTICE.md 1.7: W–Cu reads 12.5 % W
	require.NotNil(t, p.Absorption.SpanWeightPercent)
	assert.InDelta(t, 37.5, *p.Absorption.SpanWeightPercent, 0.7)
	assert.Contains(t, p.Absorption.Advice, "mean intercept")
}

// TestSectionWidensTheInterval: of a section whose regions are of unknown size the interval spans from fine to coarse, and a
// measured intercept takes most of that away.
func TestSectionWidensTheInterval(t *testing.T) {
	half := func(section string, intercept float64) float64 {
		q := request(t, []float64{80, 20}, "copper", "cu3sn-epsilon")
		q.Section, q.Intercept = section, intercept
		return *run(t, q).Phases[1].Half
	}
	powder, unknown, known := half("powder", 0), half("transverse", 0), half("transverse", 0.5)
	assert.Greater(t, unknown, 1.3*powder, "loose grains of unknown size are smaller than regions may be")
	assert.Less(t, known, unknown)
}

func TestBestTube(t *testing.T) {
	q := request(t, []float64{90, 10}, "iron-alpha", "cementite")
	q.Tubes = append(q.Tubes, tube(t, "Co", "iron-alpha", "cementite"))
	p := run(t, q)
	assert.Equal(t, "Co", p.Suggested.Radiation) // PRACTICE.md section 5, 18
	assert.Greater(t, *p.Tubes[0].Limits[1] / *p.Tubes[1].Limits[1], 3.0)
	assert.Equal(t, []string{"Fe"}, p.Tubes[0].Glowing)
}

func TestMountAndChecklist(t *testing.T) {
	q := request(t, []float64{90, 10}, "copper", "quartz")
	q.Mount, q.Length, q.Instrument.Slit = "graphite-filled resin", 8, xrd.Slit{Mode: xrd.SlitFixed, Value: 1}
	p := run(t, q)
	require.Len(t, p.Footprint.Mount, 4) // a halo and three lines of graphite
	assert.Equal(t, "halo", p.Footprint.Mount[0].Kind)
	assert.Equal(t, "line", p.Footprint.Mount[1].Kind)
	assert.InDelta(t, 26.5, p.Footprint.Mount[1].TwoTheta, 0.2)
	assert.True(t, p.Footprint.Mount[1].Below)
	all := ""
	for _, c := range p.Checklist {
		all += c + "\n"
	}
	for _, want := range []string{"flush", "blank", "standard", "SiC paper", "cuprous chloride", "crystalline silica", "radiation rules"} {
		assert.Contains(t, all, want)
	}
}

// TestEarlier: from a result of a scan with half the rate, the plan learns the rate back, and says what was wrong.
func TestEarlier(t *testing.T) {
	q := request(t, []float64{80, 20}, "copper", "cuprite")
	a := counted(t, q, q.WeightPercent, 3)
	doc := result.Document{Scan: result.Scan{Sample: "before", Radiation: "Cu", Wavelength: q.Tubes[0].Radiation.KAlpha1, Step: 0.05, CountingTimeS: result.Positive(2)},
		Cautions: []xrd.Caution{{Code: "texture", Severity: xrd.SeverityCaution, Text: "copper is textured.", Remedy: "Crush it."}, {Code: "displaced", Severity: xrd.SeverityNote}}}
	half := q
	half.Rate = 2000
	scan, err := simulate.Run(simulate.Job{Components: []simulate.Component{{Phase: q.Tubes[0].Phases[0], WeightPercent: 80}, {Phase: q.Tubes[0].Phases[1], WeightPercent: 20}},
		Radiation: q.Tubes[0].Radiation, Instrument: q.Instrument, Lo: 20, Hi: 100, Step: 0.05, Time: 2, Rate: 2000, Background: 7})
	require.NoError(t, err)
	for i, id := range []string{"copper", "cuprite"} {
		w := a.Fractions[i].Weight.Percent
		doc.Phases = append(doc.Phases, result.Phase{ID: id, Name: id, WeightPercent: &w, Scale: scan.Scales[i], DetectionLimit: result.Positive(1)})
	}
	q.WantedLimit, q.Earlier = 0.5, &result.Analysis{Document: doc, Curves: result.Curves{Background: scan.Background}}
	p := run(t, q)
	assert.InEpsilon(t, 2000, p.Scan.Rate, 0.03)
	assert.InEpsilon(t, 7, p.Scan.Background, 1e-6)
	assert.Equal(t, "before", p.Scan.From)
	var codes []string
	for _, f := range p.Earlier.Wrong {
		codes = append(codes, f.Code)
	}
	assert.Equal(t, []string{"texture", "displaced", "step-too-coarse", "limit-above-request"}, codes, "of cuprite: copper is the matrix")

	q.Tubes[0].Radiation, _ = xrd.ParseRadiation("Co")
	_, err = plan.Run(context.Background(), q)
	assert.ErrorIs(t, err, plan.ErrRequest)
}

func TestImpossible(t *testing.T) {
	for name, spoil := range map[string]func(*plan.Request){
		"nothing":         func(q *plan.Request) { q.Tubes = nil },
		"length":          func(q *plan.Request) { q.Length = -1 },
		"NaN":             func(q *plan.Request) { q.Width = math.NaN() },
		"range":           func(q *plan.Request) { q.Lo, q.Hi = 90, 30 },
		"pieces of what":  func(q *plan.Request) { q.Pieces = 3 },
		"wire and width":  func(q *plan.Request) { q.Wire, q.Width = 2, 3 },
		"wire and length": func(q *plan.Request) { q.Wire, q.Length = 2, 3 },
		"hardly there":    func(q *plan.Request) { q.Length, q.Instrument.Slit = 0.1, xrd.Slit{Mode: xrd.SlitFixed, Value: 1} },
		"intercept":       func(q *plan.Request) { q.Intercept = math.Inf(1) },
		"of a powder":     func(q *plan.Request) { q.Section, q.Intercept = "powder", 8 },
		"wanted":          func(q *plan.Request) { q.WantedLimit = 200 },
	} {
		q := request(t, []float64{100}, "copper")
		spoil(&q)
		_, err := plan.Run(context.Background(), q)
		assert.ErrorIs(t, err, plan.ErrRequest, name)
	}
	q := request(t, []float64{90, 5}, "copper", "cuprite")
	_, err := plan.Run(context.Background(), q)
	assert.ErrorIs(t, err, simulate.ErrInput, "fractions that do not sum")
	q.WeightPercent[1] = 10
	q.Tubes[0].Phases[1].RIR.Value = 0
	_, err = plan.Run(context.Background(), q)
	assert.ErrorIs(t, err, simulate.ErrNoStructure)
}

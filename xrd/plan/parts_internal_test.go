package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

// asked is a request for phases of the starter collection with Cu Kα, 20° to 100°.
func asked(t testing.TB, weights []float64, ids ...string) Request {
	t.Helper()
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	tube := Tube{Radiation: r}
	for _, id := range ids {
		n := len(tube.Phases)
		for _, rec := range refdata.Starter() {
			if rec.ID == id {
				s, err := structure.FromRecord(rec)
				require.NoError(t, err)
				p, err := s.Phase(refdata.Beam{Radiation: r})
				require.NoError(t, err)
				tube.Phases = append(tube.Phases, p)
			}
		}
		require.Len(t, tube.Phases, n+1, id)
	}
	return Request{WeightPercent: weights, Tubes: []Tube{tube}, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 100, Step: 0.02, Time: 1, Rate: 4000, Background: 20}
}

func fixed(degrees float64) xrd.Slit { return xrd.Slit{Mode: xrd.SlitFixed, Value: degrees} }

// The time that is told brings what is wanted: put back into value² = floor² + (value₀² − floor²) t₀/t it gives the wanted value. Twice as good takes
// four times as long where nothing else matters; below the floor no time does it.
func TestTimeFor(t *testing.T) {
	assert.InDelta(t, 8, *timeFor(1, 0, 0.5, 2), 1e-12, "by hand: 2 s × (1/0.5)²")
	assert.InDelta(t, 3, *timeFor(5, 3, math.Sqrt(17), 1.5), 1e-12, "by hand: (25 − 9)/(17 − 9) × 1.5 s")
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		floor, now := rnd.Float64(), 0.1+10*rnd.Float64()
		value := floor + 0.01 + 5*rnd.Float64()
		wanted := floor + 0.001 + 5*rnd.Float64()
		at := timeFor(value, floor, wanted, now)
		require.NotNil(t, at)
		assert.InEpsilon(t, wanted, math.Sqrt(floor*floor + (value*value-floor*floor)*now / *at), 1e-9)
		assert.Equal(t, wanted < value, *at > now, "longer for less")
		assert.InEpsilon(t, 3**at, *timeFor(value, floor, wanted, 3*now), 1e-9)
	}
	for _, c := range [][3]float64{{1, 0.5, 0.5}, {1, 0.5, 0.4}, {1, 0, 0}, {1, 0, -1}, {0.5, 0.5, 1}, {math.NaN(), 0, 1}, {1, math.NaN(), 1}, {1, 0, math.NaN()}} {
		assert.Nil(t, timeFor(c[0], c[1], c[2], 1), "%v", c)
	}
}

// From the angle of a length on, the beam is no longer: it lights that length there, more below and less above. Twice the radius or slit lights twice
// as much; an automatic slit lights the same at every angle.
func TestAngleOfALength(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		ins := xrd.Instrument{Radius: 100 + 200*rnd.Float64(), Slit: fixed(0.1 + rnd.Float64())}
		l := Lit(90, ins) * math.Sqrt2 * (1.001 + 9*rnd.Float64())
		at, ok := angleOfLength(l, ins)
		require.True(t, ok)
		assert.InEpsilon(t, l, Lit(at, ins), 1e-9)
		assert.Greater(t, Lit(at*0.99, ins), l)
		wide := ins
		wide.Slit.Value *= 2
		assert.InEpsilon(t, 2*Lit(at, ins), Lit(at, wide), 1e-9)
		wide = ins
		wide.Radius *= 2
		assert.InEpsilon(t, 2*Lit(at, ins), Lit(at, wide), 1e-9)
		_, ok = angleOfLength(ins.Radius*xrd.Radians(ins.Slit.Value)*0.999, ins)
		assert.False(t, ok, "shorter than the beam at 180°")
	}
	automatic := xrd.Instrument{Radius: 200, Slit: xrd.Slit{Mode: xrd.SlitAutomatic, Value: 12}}
	for l, want := range map[float64]bool{11.9: false, 12: true, 20: true} {
		at, ok := angleOfLength(l, automatic)
		assert.Equal(t, want, ok, "%g mm", l)
		assert.Zero(t, at)
	}
	assert.Equal(t, Lit(20, automatic), Lit(90, automatic))
	assert.Zero(t, Lit(40, xrd.Instrument{Radius: 200}), "a slit that is not stated")
	_, ok := angleOfLength(10, xrd.Instrument{Radius: 200})
	assert.False(t, ok)
	at, ok := angleOfLength(0, xrd.Instrument{Radius: 200, Slit: fixed(1)})
	assert.True(t, ok && at == 0, "a specimen larger than any beam")
}

// The rows of a footprint stand every 10° of the range; the share is the length over what is lit, all above the first angle, half at the second.
func TestFootprintRows(t *testing.T) {
	q := asked(t, []float64{100}, "copper")
	q.Lo, q.Hi, q.Length, q.Instrument.Slit = 23, 71, 10, fixed(1)
	f := q.footprint()
	var at []float64
	for _, r := range f.Rows {
		at = append(at, r.TwoTheta)
		assert.InEpsilon(t, Lit(r.TwoTheta, q.Instrument), r.LengthMM, 1e-12)
		assert.InEpsilon(t, math.Min(1, 10/r.LengthMM), r.Share, 1e-12)
	}
	assert.Equal(t, []float64{30, 40, 50, 60, 70}, at)
	require.NotNil(t, f.FullAbove)
	require.NotNil(t, f.UsableAbove)
	assert.InEpsilon(t, 10, Lit(*f.FullAbove, q.Instrument), 1e-9)
	assert.InEpsilon(t, 20, Lit(*f.UsableAbove, q.Instrument), 1e-9)
	assert.InDelta(t, 43.3, f.FirstTwoTheta, 0.1, "copper 111")
	assert.InEpsilon(t, Lit(f.FirstTwoTheta, q.Instrument), *f.LitAtFirstMM, 1e-12)
	q.Length = 0
	for _, r := range q.footprint().Rows {
		assert.Equal(t, 1.0, r.Share)
	}
	q.Instrument.Slit = xrd.Slit{}
	f = q.footprint()
	assert.Empty(t, f.Rows)
	assert.Nil(t, f.FullAbove)
	assert.Nil(t, f.LitAtFirstMM)
	q.Tubes[0].Phases[0].Lines = nil
	assert.Equal(t, q.Lo, q.footprint().FirstTwoTheta, "no line: the range begins where it begins")
}

// Pieces of wire: cut across they lie in a row along the beam, cut along they lie side by side.
func TestWhatLiesInTheBeam(t *testing.T) {
	for _, c := range []struct {
		q                    Request
		length, width, share float64
	}{
		{Request{}, 0, 0, 1},
		{Request{Length: 12, Width: 5}, 12, 5, 0.5},
		{Request{Length: 12, Width: 25}, 12, 25, 1},
		{Request{Width: 5, BeamWidth: 8}, 0, 5, 0.625},
		{Request{Wire: 0.8}, 0.8, 0.8, 0.08},
		{Request{Wire: 0.8, Pieces: 5, Section: "transverse"}, 4, 0.8, 0.08},
		{Request{Wire: 0.8, Pieces: 5, Section: "longitudinal", Length: 20}, 20, 4, 0.4},
	} {
		assert.InDelta(t, c.length, c.q.length(), 1e-12, "%+v", c.q)
		assert.InDelta(t, c.width, c.q.width(), 1e-12, "%+v", c.q)
		assert.InDelta(t, c.share, c.q.acrossShare(), 1e-12, "%+v", c.q)
	}
}

// Every refusal names what is wrong, with its number, and what would do.
func TestRefusalsSayWhatToDo(t *testing.T) {
	for _, c := range []struct {
		spoil func(*Request)
		want  string
	}{
		{func(q *Request) { q.Tubes = nil }, "cannot be planned: no phase is named"},
		{func(q *Request) { q.WeightPercent = nil }, "no phase is named"},
		{func(q *Request) { q.Length = -3 }, "specimen length -3; give 0 (not stated) to 1000"},
		{func(q *Request) { q.Length = 1001 }, "specimen length 1001; give 0 (not stated) to 1000"},
		{func(q *Request) { q.Width = math.NaN() }, "specimen width NaN; give 0 (not stated) to 1000"},
		{func(q *Request) { q.Wire = 101 }, "wire diameter 101; give 0 (not stated) to 100"},
		{func(q *Request) { q.Intercept = 2e5 }, "intercept 200000; give 0 (not stated) to 100000"},
		{func(q *Request) { q.Layer = -1 }, "layer -1;"},
		{func(q *Request) { q.BeamWidth = 101 }, "beam width 101; give 0 (not stated) to 100"},
		{func(q *Request) { q.WantedLimit = 100.5 }, "wanted limit 100.5; give 0 (not stated) to 100"},
		{func(q *Request) { q.WantedHalf = 100.5 }, "wanted interval 100.5;"},
		{func(q *Request) { q.Pieces = -1 }, "-1 pieces; give their diameter as wire"},
		{func(q *Request) { q.Pieces = 2 }, "2 pieces; give their diameter as wire"},
		{func(q *Request) { q.Pieces, q.Wire = 1001, 1 }, "1001 pieces; give their diameter as wire and a number up to 1000"},
		{func(q *Request) { q.Wire, q.Length = 1, 5 }, "a wire and a length or width"},
		{func(q *Request) { q.Wire, q.Width, q.Section = 1, 5, "longitudinal" }, "a wire and a length or width"},
		{func(q *Request) { q.Section, q.Intercept = "powder", 3 }, "an intercept is that of a section and the specimen is a powder"},
		{func(q *Request) { q.Lo, q.Hi = 50, 50 }, "range 50° to 50°; give two ascending angles"},
		{func(q *Request) { q.Lo = 0 }, "range 0° to 100°"},
		{func(q *Request) { q.Lo = math.NaN() }, "range NaN° to 100°"},
		{func(q *Request) { q.Instrument.Slit, q.Length = fixed(1), 0.4 }, "a specimen 0.4 mm long; nothing but its mount would be seen"},
	} {
		q := asked(t, []float64{100}, "copper")
		require.NoError(t, q.check())
		c.spoil(&q)
		err := q.check()
		require.ErrorIs(t, err, ErrRequest, c.want)
		assert.Contains(t, err.Error(), c.want)
		assert.NotContains(t, err.Error(), "\n")
	}
	for _, fine := range []func(*Request){func(q *Request) { q.Wire, q.Length, q.Section = 1, 5, "longitudinal" }, func(q *Request) { q.Pieces = 1 }, func(q *Request) { q.Length = 0.4 },
		func(q *Request) { q.WantedLimit, q.WantedHalf = 100, 100 }, func(q *Request) { q.Section, q.Intercept = "transverse", 3 }} {
		q := asked(t, []float64{100}, "copper")
		fine(&q)
		assert.NoError(t, q.check())
	}
}

// What would spoil a scan is said when it would, and not when it does not matter.
func TestWarnings(t *testing.T) {
	base := func() (Request, result.Plan) {
		q := asked(t, []float64{90, 10}, "copper", "cuprite")
		q.Instrument.Slit = fixed(1)
		p := result.Plan{Scan: result.PlannedScan{Radiation: "Cu"}, Suggested: result.Suggested{Radiation: "Cu", PointsPerFWHM: 6, LeastFWHM: 0.12, Step: 0.02},
			Tubes: []result.PlannedTube{{Radiation: "Cu"}, {Radiation: "Co"}}, Phases: []result.PlannedPhase{{Name: "copper", WeightPercent: 90, Limit: number(0.1), Free: 6}, {Name: "cuprite", WeightPercent: 10, Limit: number(0.3), Free: 3}}}
		p.Footprint = result.Footprint{FullAbove: number(40), FirstTwoTheta: 43.3}
		return q, p
	}
	q, p := base()
	assert.Empty(t, q.warnings(p), "nothing is wrong")
	for _, c := range []struct {
		spoil func(*Request, *result.Plan)
		want  string
	}{
		{func(q *Request, _ *result.Plan) { q.Length, q.Instrument.Slit = 10, xrd.Slit{} }, "The slit is not stated"},
		{func(q *Request, p *result.Plan) { q.Length, p.Footprint.FullAbove = 2, nil }, "The beam is longer than the specimen at every angle."},
		// 10 mm on R = 200 mm under 1°: 10 sin 21.65°/(200·π/180) = 106 % at 43.3°, 5 mm half of that.
		{func(q *Request, p *result.Plan) {
			q.Length, q.Instrument.Radius, p.Footprint.FullAbove = 5, 200, number(88.6)
		}, "Below 88.6° the beam is longer than the specimen: the first strong line, at 43.3°, keeps 53 % of its intensity and the mount is lit."},
		{func(q *Request, _ *result.Plan) { q.Mount = "chewing gum" }, `The mount "chewing gum" is not in the table of preparation materials`},
		{func(_ *Request, p *result.Plan) { p.Suggested.PointsPerFWHM = 4.9 }, "A step of 0.02° puts 4.9 points across the narrowest line (0.120°); 0.02° would put 6."},
		{func(_ *Request, p *result.Plan) { p.Phases[1].Limit = nil }, "cuprite has no line in this range."},
		{func(_ *Request, p *result.Plan) { p.Phases[1].Limit = number(10.1) }, "cuprite at 10 wt% lies below the detection limit of this scan, 10 wt%."},
		{func(_ *Request, p *result.Plan) { p.Phases[1].Free = 2 }, "cuprite shows 2 line(s) free of overlap at this count; a firm answer needs 3."},
		{func(_ *Request, p *result.Plan) {
			p.Phases[1].Grains = &result.GrainCount{Diffracting: 44.4, Scatter: 0.15, Spinning: 0.067, Spots: 2}
		}, "Few grains of cuprite diffract (about 44): its lines scatter by 15 %, spinning 7 %; 2 spots, spinning, bring 5 %."},
		{func(q *Request, p *result.Plan) { q.Layer, p.Phases[1].LayerShare = 0.1, number(0.0251) }, "A layer of 0.1 µm of cuprite gives 2.5 % of a thick specimen's signal."},
		{func(_ *Request, p *result.Plan) { p.Suggested.Radiation = "Co" }, "Cu radiation would show less of the minor phases than Co at the same count rate."},
		{func(_ *Request, p *result.Plan) {
			p.Tubes[0].Glowing, p.Tubes[0].Fluorescence = []string{"Fe", "Co"}, 2.6
		}, "Cu Kα makes Fe, Co fluoresce: about 3 counts/s of background without energy discrimination."},
	} {
		q, p := base()
		c.spoil(&q, &p)
		assert.Equal(t, []string{c.want}, cutTo(q.warnings(p), c.want))
	}
	for why, spare := range map[string]func(*Request, *result.Plan){
		"a mount that is known":       func(q *Request, p *result.Plan) { q.Mount, p.Footprint.MountRecognised = "epoxy", true },
		"five points":                 func(_ *Request, p *result.Plan) { p.Suggested.PointsPerFWHM = 5 },
		"on it from the first line":   func(q *Request, p *result.Plan) { q.Length, p.Footprint.FullAbove = 11, number(43.3) },
		"a limit as high":             func(_ *Request, p *result.Plan) { p.Phases[1].Limit = number(10) },
		"asked for, none expected":    func(_ *Request, p *result.Plan) { p.Phases[1].WeightPercent, p.Phases[1].Free = 0, 0 },
		"one tube":                    func(_ *Request, p *result.Plan) { p.Suggested.Radiation, p.Tubes = "Co", p.Tubes[:1] },
		"a little glow":               func(_ *Request, p *result.Plan) { p.Tubes[0].Glowing, p.Tubes[0].Fluorescence = []string{"Fe"}, 1.9 },
		"enough grains":               func(_ *Request, p *result.Plan) { p.Phases[1].Grains = &result.GrainCount{Scatter: 0.1} },
		"a layer that shows":          func(q *Request, p *result.Plan) { q.Layer, p.Phases[1].LayerShare = 1, number(0.05) },
		"another tube glows, not his": func(_ *Request, p *result.Plan) { p.Tubes[1].Glowing, p.Tubes[1].Fluorescence = []string{"Fe"}, 99 },
	} {
		q, p := base()
		spare(&q, &p)
		assert.Empty(t, q.warnings(p), why)
	}
}

// cutTo cuts a single text to the length of what is wanted.
func cutTo(list []string, want string) []string {
	if len(list) == 1 && len(list[0]) > len(want) {
		return []string{list[0][:len(want)]}
	}
	return list
}

// The checklist begins with the surface and ends with the rules for X-rays; the scan to set is in it with its time where one is known.
func TestChecklist(t *testing.T) {
	q := asked(t, []float64{100}, "silicon")
	q.Instrument.Radius = 200
	p := result.Plan{Suggested: result.Suggested{TwoThetaMin: 25, TwoThetaMax: 97, Step: 0.015, Slit: "fixed:0.5"}}
	list := q.checklist(p)
	assert.Contains(t, list[0], "Mount flush")
	assert.Equal(t, "0.1 mm below it shifts a line at 40° by -0.054°.", list[1], "−2·0.1·cos 20°/200 rad, by hand −0.0538°")
	assert.Contains(t, list, "Set 25° to 97°, step 0.015°, slit fixed:0.5.")
	assert.True(t, strings.HasPrefix(list[len(list)-1], "X-ray sets are operated only by trained people under the local radiation rules"))
	p.Suggested.TimeS, p.Suggested.TotalHours, p.Suggested.Slit = number(12.4), number(16.53), ""
	assert.Contains(t, q.checklist(p), "Set 25° to 97°, step 0.015°, 12 s per step (17 h), slit not given: write it down.")
	q.Instrument.Radius = 0
	assert.NotContains(t, strings.Join(q.checklist(p), "\n"), "0.1 mm below it")
	for _, c := range list {
		assert.NotContains(t, c, "%!")
		assert.NotContains(t, c, "NaN")
		assert.True(t, strings.HasSuffix(c, "."), c)
	}
}

// Every element that harms is warned of when it is there, and only then.
func TestHazardsOfElements(t *testing.T) {
	for _, h := range hazardous {
		q := Request{WeightPercent: []float64{100}, Tubes: []Tube{{Phases: []refdata.Phase{{Composition: []refdata.ElementShare{{Symbol: h.symbol, MassFraction: 1}}}}}}}
		assert.Equal(t, []string{h.text + "."}, q.hazards(), h.symbol)
		q.WeightPercent[0] = 0
		assert.Empty(t, q.hazards(), "none of it")
	}
	for id, want := range map[string]int{"quartz": 1, "cristobalite": 1, "silicon": 0} {
		assert.Len(t, asked(t, []float64{100}, id).hazards(), want, id)
	}
}

// Residues are told with the angles of their first lines in the range; an etch only where it shares a metal with the specimen.
func TestResidues(t *testing.T) {
	q := asked(t, []float64{100}, "copper")
	grit := strings.Join(q.residues("abrasive"), "; ")
	assert.Contains(t, grit, "SiC paper")
	assert.Contains(t, strings.Join(q.residues("etch"), "; "), "cuprous chloride")
	assert.NotContains(t, strings.Join(asked(t, []float64{100}, "silicon").residues("etch"), "; "), "cuprous", "no copper to react")
	assert.LessOrEqual(t, len(q.residues("abrasive")), 6)
	for _, r := range q.residues("abrasive") {
		assert.Regexp(t, ` \d+\.\d°`, r)
	}
	q.Lo, q.Hi = 21, 21.5
	assert.Empty(t, q.residues("abrasive"), "no line of any in the range")
	// Corundum 104, 113 and 116 are the strongest: 35.15°, 43.35°, 57.50° (from memory).
	q.Lo, q.Hi = 20, 100
	q.Table = []refdata.Preparation{{Material: "alumina", Kind: "polish", Phase: "corundum"}, {Material: "own", Kind: "polish", Lines: []float64{2.0, 50}}}
	assert.Equal(t, []string{"alumina 35.2° 43.4° 57.5°", "own 45.3°"}, sorted(q.residues("polish")), "50 Å is below the range")
}

// sorted puts the angles of each text in ascending order.
func sorted(list []string) (out []string) {
	for _, s := range list {
		f := strings.Fields(s)
		for i := 2; i < len(f); i++ {
			for k := i; k > 1 && f[k] < f[k-1]; k-- {
				f[k], f[k-1] = f[k-1], f[k]
			}
		}
		out = append(out, strings.Join(f, " "))
	}
	return out
}

// What grains do is told with the phase that changes most; nothing is asked for where it does not matter.
func TestAbsorptionAdvice(t *testing.T) {
	phase := func(name string, wt, coarse, read float64) result.PlannedPhase {
		return result.PlannedPhase{Name: name, WeightPercent: wt, CoarseReads: number(coarse), GrainsReads: number(read)}
	}
	q := Request{}
	a := q.absorption([]result.PlannedPhase{phase("copper", 80, 79, math.NaN()), phase("tin", 20, 10, math.NaN())})
	assert.InDelta(t, 10, *a.SpanWeightPercent, 1e-12)
	assert.Contains(t, a.Advice, "20 wt% tin reads up to 10.0 wt% lower or higher when grains are coarse")
	assert.Contains(t, a.Advice, "area fraction to ±2.0 vol%", "a fifth of the span")
	a = q.absorption([]result.PlannedPhase{phase("copper", 80, 77.9, math.NaN()), phase("tin", 20, 22.1, math.NaN())})
	assert.Contains(t, a.Advice, "±0.5 vol%", "no finer than anybody counts")
	a = q.absorption([]result.PlannedPhase{phase("copper", 80, 78.1, math.NaN()), phase("tin", 20, 21.9, math.NaN())})
	assert.Contains(t, a.Advice, "absorption needs no measurement", "1.9 wt% is what powders reach at best")
	a = q.absorption([]result.PlannedPhase{phase("copper", 100, 90, math.NaN())})
	assert.Contains(t, a.Advice, "absorption needs no measurement", "alone it is all there is")
	q.Intercept = 7.125
	a = q.absorption([]result.PlannedPhase{phase("copper", 80, 79, 79.7), phase("tin", 20, 10, 16.44)})
	assert.Contains(t, a.Advice, "With a mean intercept of 7.12 µm, 20 wt% tin would read 16.4 wt%; a measured intercept takes most of the span of 10.0 wt% away.")
	a = q.absorption([]result.PlannedPhase{{Name: "copper", WeightPercent: 100}})
	assert.Nil(t, a.SpanWeightPercent)
	assert.Empty(t, a.Advice, "nothing is known")
}

// What the mount adds lies in the range, ascending; a halo reaches in from outside by its width. It matters where the beam is longer than the
// specimen, and anywhere if nobody knows.
func TestMountLines(t *testing.T) {
	q := asked(t, []float64{100}, "copper")
	q.Mount = "epoxy"
	lines, known := q.mountLines(number(30))
	require.True(t, known)
	require.Len(t, lines, 2, "4.75 Å and 2.15 Å of the table")
	assert.InDelta(t, 18.67, lines[0].TwoTheta, 0.05, "Bragg, by hand: 2 asin(1.5406/9.5); below 20°, but broad")
	assert.InDelta(t, 41.99, lines[1].TwoTheta, 0.05)
	assert.True(t, lines[0].Below)
	assert.False(t, lines[1].Below, "the beam is on the specimen there")
	q.Lo = 60
	lines, known = q.mountLines(nil)
	assert.True(t, known, "it is in the table, though the range shows nothing of it")
	assert.Empty(t, lines)
	q.Lo = 20
	for length, below := range map[float64]bool{10: true, 0: false} {
		q.Length = length
		lines, _ = q.mountLines(nil)
		for _, l := range lines {
			assert.Equal(t, below, l.Below, "%g mm, the slit is not stated", length)
		}
	}
	q.Mount = "chewing gum"
	lines, known = q.mountLines(nil)
	assert.False(t, known)
	assert.Empty(t, lines)
	q.Table, q.Mount = []refdata.Preparation{{Material: "putty", Kind: "mount", Lines: []float64{3.0, 2.0, 0.5}}}, "putty"
	lines, _ = q.mountLines(nil)
	require.Len(t, lines, 2, "0.5 Å has no angle")
	assert.Equal(t, "line", lines[0].Kind)
	assert.Less(t, lines[0].TwoTheta, lines[1].TwoTheta)
}

// Another tube covers the same spacings, by Bragg's law, as far as a goniometer goes.
func TestRangeOfAnotherTube(t *testing.T) {
	q := asked(t, []float64{100}, "copper")
	for _, name := range []string{"Cu", "Co", "Cr", "Mo", "Fe"} {
		r, err := xrd.ParseRadiation(name)
		require.NoError(t, err)
		lo, hi := q.rangeFor(Tube{Radiation: r})
		d := func(angle, wavelength float64) float64 { return wavelength / 2 / math.Sin(xrd.Radians(angle)/2) }
		cu := q.Tubes[0].Radiation.KAlpha1
		assert.InEpsilon(t, d(20, cu), d(lo, r.KAlpha1), 1e-9, name)
		if hi < highest {
			assert.InEpsilon(t, d(100, cu), d(hi, r.KAlpha1), 1e-9, name)
		} else {
			assert.Greater(t, d(hi, r.KAlpha1), d(100, cu), name)
		}
		assert.True(t, lo >= lowest && hi <= highest && lo < hi, "%s: %g to %g", name, lo, hi)
	}
	q.Lo = 1.5
	mo, _ := xrd.ParseRadiation("Mo")
	lo, _ := q.rangeFor(Tube{Radiation: mo})
	assert.Equal(t, lowest, lo)
}

// The absorption of a solid mixture is that of its masses over its volumes; of equal masses of densities 9 and 3 three quarters of the volume are the
// lighter phase.
func TestMeanAbsorption(t *testing.T) {
	tube := Tube{Phases: []refdata.Phase{{Density: 9, MassAbsorption: 50}, {Density: 3, MassAbsorption: 30}}}
	mu, volumes := Request{WeightPercent: []float64{50, 50}}.meanMu(tube)
	assert.InDeltaSlice(t, []float64{0.25, 0.75}, volumes, 1e-12)
	assert.InDelta(t, 0.25*450+0.75*90, mu, 1e-9)
}

// Grains: their number goes with the area and the depth and the inverse cube of their size, the scatter of intensities with the inverse root of those
// that diffract; spinning brings five times as many.
func TestGrainStatisticsScale(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for range 100 {
		d, area, depth, m := 1+9*rnd.Float64(), 20+100*rnd.Float64(), 2+20*rnd.Float64(), 2+22*rnd.Float64()
		g := GrainStatistics(d, 0.5, area, depth, m)
		assert.InEpsilon(t, 0.5*area*1e6*depth/(math.Pi/6*math.Pow(1.5*d, 3)), g.Irradiated, 1e-9)
		assert.InEpsilon(t, g.Irradiated*m*2e-5, g.Diffracting, 1e-9)
		assert.InEpsilon(t, g.Irradiated/8, GrainStatistics(2*d, 0.5, area, depth, m).Irradiated, 1e-9)
		if g.Scatter < 2 {
			assert.InEpsilon(t, 1/math.Sqrt(g.Diffracting), g.Scatter, 1e-9)
			assert.InEpsilon(t, g.Scatter/math.Sqrt(5), g.Spinning, 1e-9)
			assert.InDelta(t, math.Max(1, math.Ceil(g.Spinning*g.Spinning/0.0025)), g.Spots, 1e-9)
		}
	}
	few := GrainStatistics(1e4, 1, 1, 1, 2)
	assert.Equal(t, 2.0, few.Scatter, "no grain at all is no more than that")
	assert.LessOrEqual(t, few.Spots, most)
}

// Of a specimen, the beam lights no more than there is.
func TestGrainsOfWhatIsLit(t *testing.T) {
	q := asked(t, []float64{100}, "copper")
	p := q.Tubes[0].Phases[0]
	line := q.strongest(p)
	assert.Nil(t, q.grainsOf(p, line, 1, 400), "their size is not known")
	q.Intercept, q.Instrument.Slit = 5, fixed(1)
	whole := q.grainsOf(p, line, 1, 400).Irradiated
	q.Length = Lit(line.TwoTheta, q.Instrument) / 2
	assert.InEpsilon(t, whole/2, q.grainsOf(p, line, 1, 400).Irradiated, 1e-9, "half of what the beam would light")
	q.Length *= 10
	assert.InEpsilon(t, whole, q.grainsOf(p, line, 1, 400).Irradiated, 1e-9)
	q.Width = DefaultBeamWidth / 4
	assert.InEpsilon(t, whole/4, q.grainsOf(p, line, 1, 400).Irradiated, 1e-9)
	q.Width, q.Length, q.Instrument.Slit = 0, 0, xrd.Slit{}
	assert.InEpsilon(t, whole*DefaultBeamWidth/Lit(line.TwoTheta, xrd.Instrument{Radius: q.Instrument.Radius, Slit: fixed(1)}), q.grainsOf(p, line, 1, 400).Irradiated, 1e-9, "a slit that is not stated: as long as wide")
	q.Length = 3
	assert.InEpsilon(t, 0.3*q.withLength(0).grainsOf(p, line, 1, 400).Irradiated, q.grainsOf(p, line, 1, 400).Irradiated, 1e-9)
	assert.Nil(t, q.grainsOf(p, line, 0, 400))
	q.Intercept = math.Inf(1)
	assert.Nil(t, q.grainsOf(p, line, 1, 400))
}

func (q Request) withLength(l float64) Request { q.Length = l; return q }

// Of an earlier result: lines r times as wide make every width of the instrument r times as wide, the median counts, and few lines say nothing.
func TestWidthsOfAnEarlierScan(t *testing.T) {
	learned := func(factors ...float64) (Request, result.EarlierScan) {
		q := asked(t, []float64{100}, "copper")
		doc := result.Document{Scan: result.Scan{CountingTimeS: number(2)}}
		for k, f := range factors {
			at := 30 + 12*float64(k)
			doc.Peaks = append(doc.Peaks, result.Peak{TwoTheta: at, FWHM: f * q.Instrument.FWHM(at)})
		}
		q.Earlier = &result.Analysis{Document: doc}
		e, err := q.learn()
		require.NoError(t, err)
		return q, e
	}
	plain := asked(t, []float64{100}, "copper")
	q, e := learned(1.2, 1.5, 2.5, 1.4, 1.6)
	assert.InDelta(t, 1.5, *e.WidthRatio, 1e-9, "the median")
	for at := 20.0; at < 120; at += 10 {
		assert.InEpsilon(t, 1.5*plain.Instrument.FWHM(at), q.Instrument.FWHM(at), 1e-6, "%g°", at)
	}
	for why, f := range map[string][]float64{"two lines": {1.5, 1.5}, "what is no line": {5, 9, 0.1, 0.2}} {
		q, e := learned(f...)
		assert.Nil(t, e.WidthRatio, why)
		assert.Equal(t, plain.Instrument, q.Instrument, why)
	}
}

// An earlier result that does not say its time, or is of another tube, is refused with what to do.
func TestEarlierThatSaysTooLittle(t *testing.T) {
	q := asked(t, []float64{100}, "copper")
	q.Earlier = &result.Analysis{}
	_, err := q.learn()
	require.ErrorIs(t, err, ErrRequest)
	assert.Contains(t, err.Error(), "# counting_time_s: 1")
	q.Earlier.Document.Scan = result.Scan{CountingTimeS: number(1), Wavelength: 1.789, Radiation: "Co"}
	_, err = q.learn()
	require.ErrorIs(t, err, ErrRequest)
	assert.Contains(t, err.Error(), "is of Co radiation, the plan of Cu")
	q.Earlier.Document.Scan.Wavelength = 1.5406
	q.Earlier.Curves.Background = []float64{30, 10, 20, -5, 99}
	q.Earlier.Document.Scan.CountingTimeS = number(4)
	e, err := q.learn()
	require.NoError(t, err)
	assert.InDelta(t, 5, *e.Background, 1e-12, "the median, 20 counts in 4 s")
	assert.True(t, q.Discriminates, "fluorescence is in it already")
	assert.Nil(t, e.Rate, "no phase is known")
	assert.InDelta(t, 4000, q.Rate, 0)
}

// An analysis is told of regions what was stated of them.
func TestRegions(t *testing.T) {
	assert.Nil(t, Request{Section: "powder"}.regions())
	assert.True(t, Request{}.regions().Perhaps)
	r := Request{Section: "rolled"}.regions()
	assert.False(t, r.Perhaps)
	assert.Zero(t, r.Common)
	r = Request{Section: "rolled", Intercept: 4}.regions()
	assert.InDelta(t, 4, r.Common, 0)
	assert.InDelta(t, 0.3, r.CommonU, 0)
}

// Numbers for people: two digits and no exponent.
func TestBrief(t *testing.T) {
	for v, want := range map[float64]string{0.1234: "0.12", 1.25: "1.2", 9.96: "10", 10: "10", 123.6: "124", 12345.6: "12346"} {
		assert.Equal(t, want, brief(v), fmt.Sprint(v))
	}
	assert.Nil(t, number(math.NaN()))
	assert.Nil(t, number(math.Inf(-1)))
	assert.InDelta(t, 0, *number(0), 0)
	assert.InDelta(t, 8, multiplicity(refdata.Line{Families: []refdata.Family{{Multiplicity: 6}, {Multiplicity: 2}}}), 0)
	assert.InDelta(t, 2, multiplicity(refdata.Line{}), 0, "a plane and its back at least")
}

// What harms in a material of the preparation is told once to those whose specimen or mount is made of it, and to nobody else.
func TestHazardsOfPreparation(t *testing.T) {
	told := func(q Request) (n map[string]int) {
		n = map[string]int{}
		for _, line := range q.checklist(result.Plan{}) {
			if strings.HasPrefix(line, "Hazard, ") {
				_, h, _ := strings.Cut(line, ": ")
				n[h]++
			}
		}
		return n
	}
	q := asked(t, []float64{100}, "silicon")
	assert.Empty(t, told(q))
	some := 0
	for _, m := range q.table() {
		if m.Hazard == "" {
			continue
		}
		if m.Phase != "" {
			q := q
			q.Tubes = []Tube{{Radiation: q.Tubes[0].Radiation, Phases: []refdata.Phase{{ID: m.Phase, Name: m.Phase}}}}
			assert.Equal(t, 1, told(q)[m.Hazard], m.Material)
			some++
		}
		if m.Kind == "mount" {
			q.Mount = m.Material
			assert.Equal(t, 1, told(q)[m.Hazard], m.Material)
			some++
		}
	}
	assert.Greater(t, some, 3)
}

// The time that is suggested is the longest that a phase needs, in the suggested step: a matrix is asked for its interval, not for its limit, unless
// there is nothing else. By hand: 30 s in steps of 0.02° are as many counts in a line as 30·s/0.02 in steps of s.
func TestSuggestedTime(t *testing.T) {
	for name, c := range map[string]struct {
		phases []result.PlannedPhase
		want   float64
	}{
		"the limit of the minor phase":    {[]result.PlannedPhase{{WeightPercent: 50, TimeForLimit: number(90)}, {WeightPercent: 49.9, TimeForLimit: number(30)}}, 30},
		"that of any minor phase":         {[]result.PlannedPhase{{WeightPercent: 49.9, TimeForLimit: number(90)}, {WeightPercent: 30, TimeForLimit: number(30)}}, 90},
		"the interval of the matrix":      {[]result.PlannedPhase{{WeightPercent: 80, TimeForLimit: number(90), TimeForHalf: number(60)}, {WeightPercent: 20, TimeForLimit: number(30)}}, 60},
		"a phase alone":                   {[]result.PlannedPhase{{WeightPercent: 100, TimeForLimit: number(90)}}, 90},
		"the interval of the minor phase": {[]result.PlannedPhase{{WeightPercent: 80}, {WeightPercent: 20, TimeForLimit: number(30), TimeForHalf: number(31)}}, 31},
		"nothing that time brings":        {[]result.PlannedPhase{{WeightPercent: 80, TimeForLimit: number(90)}, {WeightPercent: 20}}, 0},
	} {
		q := asked(t, []float64{80, 20}, "copper", "cuprite")
		e, err := q.expect(t.Context(), q.job(q.Tubes[0], q.Lo, q.Hi, q.Background, q.Time), 1)
		require.NoError(t, err)
		s := q.suggest(result.Plan{Phases: c.phases}, e)
		if c.want == 0 {
			assert.Nil(t, s.TimeS, name)
			assert.Nil(t, s.TotalHours, name)
			continue
		}
		require.NotNil(t, s.TimeS, name)
		assert.InEpsilon(t, c.want*s.Step/0.02, *s.TimeS, 1e-9, name)
		assert.InEpsilon(t, *s.TimeS*(s.TwoThetaMax-s.TwoThetaMin)/s.Step/3600, *s.TotalHours, 1e-9, name)
	}
}

// Of two tubes the better one of a single phase, or of two that are half each, has score 0, and the interval that is drawn reaches as far up as down.
func TestScoresAndDrawnIntervals(t *testing.T) {
	for _, q := range []Request{asked(t, []float64{100}, "cuprite"), asked(t, []float64{50, 50}, "copper", "cuprite")} {
		q.Tubes = append(q.Tubes, q.Tubes[0])
		p, err := Run(t.Context(), q)
		require.NoError(t, err)
		for _, x := range p.Tubes {
			require.NotNil(t, x.Score)
			assert.Zero(t, *x.Score, "the same tube twice is as good")
		}
	}
	q := asked(t, []float64{60, 40}, "copper", "cuprite")
	p, err := Run(t.Context(), q)
	require.NoError(t, err)
	require.Len(t, p.Drawn.Document.Phases, 2)
	for i, ph := range p.Drawn.Document.Phases {
		half := *p.Phases[i].Half
		assert.InDelta(t, q.WeightPercent[i]-half, *ph.WeightPercentLo, 1e-9)
		assert.InDelta(t, q.WeightPercent[i]+half, *ph.WeightPercentHi, 1e-9)
		assert.Less(t, half, 40.0)
	}
}

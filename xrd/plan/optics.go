package plan

import (
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

// depthShares are the shares of the signal whose depth is told.
var depthShares = [3]float64{0.50, 0.95, 0.99}

// depths returns the depths in µm from which those shares come, at an angle and an absorption in 1/cm.
func depths(twoTheta, mu float64) (out [3]float64) {
	for i, s := range depthShares {
		out[i] = xrd.InformationDepth(twoTheta, mu, s)
	}
	return out
}

// LayerShare returns the share of the signal that comes from above a depth in µm: 1 − exp(−2 μ t/sin θ), μ in 1/cm.
func LayerShare(twoTheta, mu, depth float64) float64 {
	return -math.Expm1(-2 * mu * depth * 1e-4 / math.Sin(xrd.Radians(twoTheta)/2))
}

// Lit returns the length in mm that the beam of a slit lights at an angle: R α/sin θ, or the length of an automatic slit;
// 0 when the slit does not say. (R α/sin θ holds for a source far from the specimen; the exact length differs by less than 1 % up
// to 2°.)
func Lit(twoTheta float64, ins xrd.Instrument) float64 {
	switch ins.Slit.Mode {
	case xrd.SlitAutomatic:
		return ins.Slit.Value
	case xrd.SlitFixed:
		return ins.Radius * xrd.Radians(ins.Slit.Value) / math.Sin(xrd.Radians(twoTheta)/2)
	}
	return 0
}

// angleOfLength returns the angle from which on the beam is no longer than l mm; 0 for one that never is longer, and false where
// that cannot be said or it always is.
func angleOfLength(l float64, ins xrd.Instrument) (float64, bool) {
	if !(l > 0) || !(ins.Slit.Value > 0) {
		return 0, !(l > 0) && ins.Slit.Value > 0
	}
	if ins.Slit.Mode == xrd.SlitAutomatic {
		return 0, ins.Slit.Value <= l
	}
	s := ins.Radius * xrd.Radians(ins.Slit.Value) / l
	if !(s < 1) {
		return 0, false
	}
	return 2 * xrd.Degrees(math.Asin(s)), true
}

// footprint tells how the beam meets the specimen.
func (q Request) footprint() result.Footprint {
	f := result.Footprint{AcrossShare: q.acrossShare(), BeamWidthMM: q.beamWidth(), Rows: []result.FootprintRow{}, Mount: []result.MountLine{}}
	l := q.length()
	for x := math.Ceil(q.Lo/10) * 10; x <= q.Hi && Lit(x, q.Instrument) > 0; x += 10 {
		row := result.FootprintRow{TwoTheta: x, LengthMM: Lit(x, q.Instrument), Share: 1}
		if l > 0 {
			row.Share = math.Min(1, l/row.LengthMM)
		}
		f.Rows = append(f.Rows, row)
	}
	if at, ok := angleOfLength(l, q.Instrument); ok {
		f.FullAbove = &at
	}
	if at, ok := angleOfLength(2*l, q.Instrument); ok {
		f.UsableAbove = &at
	}
	f.FirstTwoTheta = q.firstLine()
	if lit := Lit(f.FirstTwoTheta, q.Instrument); lit > 0 {
		f.LitAtFirstMM = &lit
	}
	f.Mount, f.MountRecognised = q.mountLines(f.FullAbove)
	return f
}

const strongShare = 20.0 // of the strongest line: lines that an analysis cannot do without (common practice)

// firstLine is the lowest angle of a strong line of any phase.
func (q Request) firstLine() float64 {
	first := math.Inf(1)
	for _, p := range q.Tubes[0].Phases {
		for _, l := range p.Lines {
			if l.Intensity >= strongShare {
				first = math.Min(first, l.TwoTheta)
			}
		}
	}
	if math.IsInf(first, 1) {
		return q.Lo
	}
	return first
}

// mountLines lists what the mount adds in the range.
func (q Request) mountLines(full *float64) ([]result.MountLine, bool) {
	materials := refdata.MountOf(q.table(), q.Mount)
	out := []result.MountLine{}
	wl := q.Tubes[0].Radiation.KAlpha1
	add := func(m refdata.Preparation, kind string, d, reach float64) {
		if at, ok := xrd.TwoTheta(d, wl); ok && at >= q.Lo-reach && at <= q.Hi+reach {
			// A slit that is not stated may light anything.
			below := full == nil && q.length() > 0 || full != nil && at < *full
			out = append(out, result.MountLine{Material: m.Material, Kind: kind, TwoTheta: at, Below: below})
		}
	}
	for _, m := range materials {
		for _, h := range m.Haloes {
			add(m, "halo", h.D, h.Width*xrd.Broadness(wl))
		}
		for _, d := range m.Lines {
			add(m, "line", d, 0)
		}
		if m.Phase == "" || len(m.Lines) > 0 {
			continue
		}
		for _, r := range refdata.Starter() {
			if r.ID == m.Phase {
				for _, s := range r.Strong[:min(3, len(r.Strong))] {
					add(m, "line", float64(s.D), 0)
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b result.MountLine) int {
		if a.TwoTheta < b.TwoTheta {
			return -1
		}
		return 1
	})
	return out, len(materials) > 0
}

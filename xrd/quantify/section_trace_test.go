package quantify

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// An alloy for tracing. Linear absorption for Cu Kα, 1/cm, from mass coefficients of International Tables C and densities
// (from memory; only the contrast matters here).
type alloy struct {
	name    string
	phases  []string
	mu, rho []float64
	v       []float64
}

var alloys = []alloy{
	{"Cu–Cu3Sn", []string{"Cu", "Cu3Sn"}, []float64{472, 1140}, []float64{8.94, 8.9}, []float64{0.7, 0.3}},
	{"W–Cu", []string{"W", "Cu"}, []float64{3310, 472}, []float64{19.25, 8.94}, []float64{0.6, 0.4}},
	{"Nb3Sn–Nb–bronze", []string{"Nb3Sn", "Nb", "bronze"}, []float64{1640, 1310, 610}, []float64{8.92, 8.57, 8.8}, []float64{0.35, 0.15, 0.5}},
	{"cuprite in bronze", []string{"bronze", "Cu2O"}, []float64{610, 290}, []float64{8.8, 6.1}, []float64{0.85, 0.15}},
}

func (a alloy) weights(v []float64) []float64 {
	w := make([]float64, len(v))
	for p := range v {
		w[p] = v[p] * a.rho[p]
	}
	out, _ := shares(w)
	return out
}

func (a alloy) meanMu(v []float64) (mean float64) {
	for p := range v {
		mean += v[p] * a.mu[p]
	}
	return mean
}

// long asks for five times as many rays.
func long() int {
	if os.Getenv("SECTION_TRACE_LONG") != "" {
		return 5
	}
	return 1
}

// paints gives the cells of a tessellation a phase at random, each cell on its own.
func paints(rng *rand.Rand, cells int, v []float64) []int {
	out := make([]int, cells)
	for i := range out {
		x := rng.Float64()
		for p := range v {
			if x -= v[p]; x < 0 || p == len(v)-1 {
				out[i] = p
				break
			}
		}
	}
	return out
}

// The model against rays traced through random tessellations: fractions within 1 wt% from fine to coarse, with the intercepts
// of each phase as a micrograph shows them.
func TestMosaicTraced(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 1))
	g := newVoronoi(rng, 9)
	rays := g.probes(rng, 5000*long(), 40)
	t.Logf("%-18s %6s %6s  %s", "alloy", "ℓμ̄", "CV²", "wt% traced / model / fine / coarse, of each phase")
	for _, a := range alloys {
		painted := paints(rng, len(g.seeds), a.v)
		phases := make([]probe, len(rays))
		for i, r := range rays {
			phases[i] = r.painted(painted)
		}
		s := read(phases, len(a.v))
		truth := a.weights(s.v)
		var mean float64 // over all regions
		for p := range s.v {
			mean += s.v[p] / s.intercept[p]
		}
		for _, x := range []float64{0.05, 0.2, 0.5, 1, 2, 5, 20} {
			scale := x * mean / a.meanMu(s.v) // cm of a unit of length
			y := s.intensities(a.mu, scale)
			solve := func(factor float64) []float64 {
				m := Mosaic{Mu: a.mu, Spread: DefaultSpread}
				for p := range s.v {
					m.Intercept = append(m.Intercept, s.intercept[p]*scale*1e4*factor)
				}
				v, err := m.Volumes(y)
				if err != nil {
					t.Fatal(err)
				}
				return a.weights(v)
			}
			got, fineW, coarseW := solve(1), solve(1e-6), solve(1e9)
			for p := range got {
				t.Logf("%-18s %6.2f %6.2f  %-7s %6.2f %6.2f %6.2f %6.2f", a.name, x, s.spread, a.phases[p], truth[p], got[p], fineW[p], coarseW[p])
				if !(math.Abs(got[p]-truth[p]) < 1) {
					t.Errorf("%s, ℓμ̄ %g: %s %.2f wt%%, traced %.2f", a.name, x, a.phases[p], got[p], truth[p])
				}
			}
		}
	}
}

// Shapes that are no mosaic: by which factor an intercept would have to be wrong for the model to err as much as it does.
func TestMosaicOtherShapes(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 1))
	g := newVoronoi(rng, 10)
	rays := g.probes(rng, 4000*long(), 40)
	painted := func(phase []int) []probe {
		out := make([]probe, len(rays))
		for i, r := range rays {
			out[i] = r.painted(phase)
		}
		return out
	}
	n := 4000 * long()
	bisector := func(in, out vector) vector { // the normal of the surface
		k := in.plus(1, out)
		return vector{}.plus(1/math.Sqrt(k.dot(k)), k)
	}
	across := func(in, out vector) vector { // normal to both beams
		k := vector{in[1]*out[2] - in[2]*out[1], in[2]*out[0] - in[0]*out[2], in[0]*out[1] - in[1]*out[0]}
		return vector{}.plus(1/math.Sqrt(k.dot(k)), k)
	}
	a := alloys[0]
	allowed := 2 * math.Hypot(modelU, DefaultSpreadU/(1+DefaultSpread))
	for _, shape := range []struct {
		name   string
		inside bool // within what modelU and DefaultSpreadU allow, at 95 %
		probes []probe
	}{
		{"random cells", true, painted(paints(rng, len(g.seeds), a.v))},
		{"clusters, 9 in 10", true, painted(clustered(rng, g, 4, 0.3, 0.9, 0.04))},
		{"clusters, 6 in 10", true, painted(clustered(rng, g, 4, 0.4, 0.6, 0.1))},
		{"lamellae, all directions", true, lamellae(rng, n, 0.7, 0.3, 40, func(vector, vector) vector { return unit(rng) })},
		{"lamellae on edge, across the beam", false, lamellae(rng, n, 0.7, 0.3, 40, func(in, out vector) vector {
			k := in.plus(-1, out)
			return vector{}.plus(1/math.Sqrt(k.dot(k)), k)
		})},
		{"lamellae on edge, along the beam", false, lamellae(rng, n, 0.7, 0.3, 40, across)},
		{"layers that lie flat", false, lamellae(rng, n, 0.7, 0.3, 40, bisector)},
	} {
		s := read(shape.probes, 2)
		for p := range s.v { // isotropic intercept of plates is twice their width; along the beam no region ends
			if shape.name[:2] == "la" {
				s.intercept[p] = 2 * []float64{0.7, 0.3}[p]
			}
		}
		truth := a.weights(s.v)
		for _, x := range []float64{0.2, 1, 5} {
			scale := x * (s.v[0]/s.intercept[0] + s.v[1]/s.intercept[1]) / a.meanMu(s.v)
			y := s.intensities(a.mu, scale)
			solve := func(factor float64) float64 {
				m := Mosaic{Mu: a.mu, Spread: DefaultSpread, Intercept: []float64{s.intercept[0] * scale * 1e4 * factor, s.intercept[1] * scale * 1e4 * factor}}
				v, err := m.Volumes(y)
				if err != nil {
					t.Fatal(err)
				}
				return a.weights(v)[0]
			}
			lo, hi := -6.0, 6.0
			for range 40 {
				if mid := (lo + hi) / 2; solve(math.Exp(mid)) > truth[0] {
					lo = mid
				} else {
					hi = mid
				}
			}
			t.Logf("%-34s ℓμ̄ %4.1f CV² %4.2f: traced %.2f model %.2f fine %.2f, factor of the intercept %.2f", shape.name, x, s.spread, truth[0], solve(1), solve(1e-6), math.Exp(lo))
			if shape.inside != (math.Abs(lo) < allowed) && (shape.inside || x < 2) {
				t.Errorf("%s, ℓμ̄ %g: an intercept wrong by %.2f", shape.name, x, math.Exp(lo))
			}
		}
	}
}

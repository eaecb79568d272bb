package quantify

// A microstructure in three dimensions, with rays traced through it. Nothing here is shared with the model of section.go.

import (
	"math"
	"math/rand/v2"
)

type vector [3]float64

func (a vector) plus(t float64, b vector) vector {
	return vector{a[0] + t*b[0], a[1] + t*b[1], a[2] + t*b[2]}
}

func (a vector) dot(b vector) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// unit returns a random direction.
func unit(rng *rand.Rand) vector {
	v := vector{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
	return vector{}.plus(1/math.Sqrt(v.dot(v)), v)
}

// voronoi is a random tessellation of a periodic box, one seed in a unit of volume.
type voronoi struct {
	side  float64
	seeds []vector
	near  [][]neighbour
}

type neighbour struct {
	cell int
	to   vector
}

func newVoronoi(rng *rand.Rand, side int) *voronoi {
	const reach = 2.6 // cells farther apart than twice 1.3 do not touch: a ball of 1.3 without a seed has the chance exp(−9.2)
	n := side * side * side
	g := &voronoi{side: float64(side), near: make([][]neighbour, n)}
	for range n {
		g.seeds = append(g.seeds, vector{rng.Float64() * g.side, rng.Float64() * g.side, rng.Float64() * g.side})
	}
	for i, a := range g.seeds {
		for j, b := range g.seeds {
			if to := g.nearest(b.plus(-1, a)); i != j && to.dot(to) < reach*reach {
				g.near[i] = append(g.near[i], neighbour{j, to})
			}
		}
	}
	return g
}

// nearest returns the shortest of the periodic images of a difference.
func (g *voronoi) nearest(d vector) vector {
	for k := range d {
		d[k] -= g.side * math.Round(d[k]/g.side)
	}
	return d
}

func (g *voronoi) cellAt(x vector) int {
	best, least := 0, math.Inf(1)
	for i, s := range g.seeds {
		if d := g.nearest(x.plus(-1, s)); d.dot(d) < least {
			best, least = i, d.dot(d)
		}
	}
	return best
}

// A piece of a ray lies in one cell.
type piece struct {
	cell   int
	length float64
}

// ray follows a direction from a point for a length.
func (g *voronoi) ray(x, d vector, length float64) []piece {
	cell := g.cellAt(x)
	at := g.nearest(x.plus(-1, g.seeds[cell])) // from the seed
	var out []piece
	for length > 0 {
		t, next := length, neighbour{cell: -1}
		for _, n := range g.near[cell] {
			if along := n.to.dot(d); along > 0 {
				if hit := (n.to.dot(n.to)/2 - at.dot(n.to)) / along; hit < t {
					t, next = max(hit, 0), n
				}
			}
		}
		out = append(out, piece{cell, t})
		length -= t
		if next.cell < 0 {
			break
		}
		at, cell = at.plus(t, d).plus(-1, next.to), next.cell
	}
	return out
}

// A probe is a random point with its way to the surface along both beams, in pieces of one phase.
type probe struct{ in, out []piece }

// probes traces n random points with legs of a length, at random angles of 2θ.
func (g *voronoi) probes(rng *rand.Rand, n int, length float64) []probe {
	var out []probe
	for range n {
		x := vector{rng.Float64() * g.side, rng.Float64() * g.side, rng.Float64() * g.side}
		a := unit(rng)
		s, c := math.Sincos(math.Pi - (30+90*rng.Float64())*math.Pi/180) // the angle between the legs
		b := unit(rng)
		b = b.plus(-b.dot(a), a)
		b = vector{}.plus(c, a).plus(s/math.Sqrt(b.dot(b)), b)
		out = append(out, probe{g.ray(x, a, length), g.ray(x, b, length)})
	}
	return out
}

// painted returns a probe whose cells have become phases, neighbours of one phase made one piece.
func (p probe) painted(phase []int) probe {
	paint := func(ray []piece) []piece {
		var out []piece
		for _, s := range ray {
			if n := len(out); n > 0 && out[n-1].cell == phase[s.cell] {
				out[n-1].length += s.length
			} else {
				out = append(out, piece{phase[s.cell], s.length})
			}
		}
		return out
	}
	return probe{paint(p.in), paint(p.out)}
}

// signal returns ∫ exp(−absorption on both legs) dx with the surface at every distance x along the legs: all depths count
// alike, so that what happens to lie at one surface does not matter. Lengths are multiplied by scale.
func (p probe) signal(mu []float64, scale float64) float64 {
	var sum, lost float64
	i, j := 0, 0
	leftIn, leftOut := p.in[0].length, p.out[0].length
	for {
		t := min(leftIn, leftOut) * scale
		rate := mu[p.in[i].cell] + mu[p.out[j].cell]
		sum += math.Exp(-lost) * -math.Expm1(-rate*t) / rate
		lost += rate * t
		if leftIn <= leftOut {
			leftOut -= leftIn
			if i++; i == len(p.in) {
				return sum
			}
			leftIn = p.in[i].length
			continue
		}
		leftIn -= leftOut
		if j++; j == len(p.out) {
			return sum
		}
		leftOut = p.out[j].length
	}
}

// A traced microstructure: its true volume fractions, the mean intercept and CV² of the regions, as read along the rays.
type structureTraced struct {
	v, intercept []float64
	spread       float64
	probes       []probe
}

// read measures what a micrograph would show.
func read(probes []probe, n int) structureTraced {
	s := structureTraced{v: make([]float64, n), intercept: make([]float64, n), probes: probes}
	count, total, square := make([]float64, n), make([]float64, n), make([]float64, n)
	for _, p := range probes {
		for _, ray := range [][]piece{p.in, p.out} {
			for i, r := range ray {
				s.v[r.cell] += r.length
				if i > 0 && i < len(ray)-1 { // whole regions
					count[r.cell]++
					total[r.cell] += r.length
					square[r.cell] += r.length * r.length
				}
			}
		}
	}
	var all, weight float64
	for _, x := range s.v {
		all += x
	}
	for p := range n {
		s.v[p] /= all
		s.intercept[p] = total[p] / count[p]
		cv := square[p]/count[p]/(s.intercept[p]*s.intercept[p]) - 1
		s.spread += cv * count[p]
		weight += count[p]
	}
	s.spread /= weight
	return s
}

// intensities returns v_p ⟨signal⟩ of each phase.
func (s structureTraced) intensities(mu []float64, scale float64) []float64 {
	sum, count := make([]float64, len(mu)), make([]float64, len(mu))
	for _, p := range s.probes {
		sum[p.in[0].cell] += p.signal(mu, scale)
		count[p.in[0].cell]++
	}
	for p := range sum {
		sum[p] *= s.v[p] / count[p]
	}
	return sum
}

// lamellae traces plates of two phases of widths a and b (lengths of the tessellation), stacked along a normal that is
// chosen for each point from the directions of both legs.
func lamellae(rng *rand.Rand, n int, a, b, length float64, normal func(in, out vector) vector) []probe {
	var probes []probe
	for range n {
		in := unit(rng)
		s, c := math.Sincos(math.Pi - (30+90*rng.Float64())*math.Pi/180)
		side := unit(rng)
		side = side.plus(-side.dot(in), in)
		out := vector{}.plus(c, in).plus(s/math.Sqrt(side.dot(side)), side)
		k := normal(in, out)
		at := rng.Float64() * (a + b)
		leg := func(d vector) []piece {
			speed, x, left := d.dot(k), at, length
			var pieces []piece
			for left > 0 {
				phase, lo, hi := 0, 0.0, a
				if x >= a {
					phase, lo, hi = 1, a, a+b
				}
				edge, next := hi, hi
				if next == a+b {
					next = 0
				}
				if speed < 0 {
					edge, next = lo, lo-1e-12
					if next < 0 {
						next = a + b - 1e-12
					}
				}
				t := left
				if speed != 0 {
					t = min(left, math.Max(0, (edge-x)/speed))
				}
				pieces = append(pieces, piece{phase, t})
				left -= t
				x = next
			}
			return pieces
		}
		probes = append(probes, probe{leg(in), leg(out)})
	}
	return probes
}

// clustered gives the cells a phase by the cell of a coarser tessellation that they lie in: of the second phase in rich
// coarse cells with one chance, in poor ones with another.
func clustered(rng *rand.Rand, g *voronoi, coarser int, share, rich, poor float64) []int {
	fat := newVoronoi(rng, coarser)
	kind := paints(rng, len(fat.seeds), []float64{1 - share, share})
	out := make([]int, len(g.seeds))
	for i, s := range g.seeds {
		chance := poor
		if kind[fat.cellAt(vector{}.plus(fat.side/g.side, s))] == 1 {
			chance = rich
		}
		if rng.Float64() < chance {
			out[i] = 1
		}
	}
	return out
}

package quantify

import (
	"math"
	"math/rand/v2"
	"testing"
)

func randomMosaic(rng *rand.Rand) (Mosaic, []float64) {
	n := 2 + rng.IntN(4)
	m := Mosaic{Spread: rng.Float64(), Common: math.Exp(rng.NormFloat64()*2 + 1)}
	v := make([]float64, n)
	var sum float64
	for p := range v {
		m.Mu = append(m.Mu, math.Exp(rng.NormFloat64()+6))
		v[p] = math.Exp(rng.NormFloat64())
		sum += v[p]
	}
	if rng.IntN(2) == 0 {
		m.Intercept = make([]float64, n)
		for p := range v {
			if rng.IntN(2) == 0 {
				m.Intercept[p] = m.Common * math.Exp(rng.NormFloat64()/2)
			}
		}
	}
	for p := range v {
		v[p] /= sum
	}
	return m, v
}

// The two limits follow from dE/dx alone: all regions points, or no region with an end.
func TestMosaicLimits(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 200 {
		m, v := randomMosaic(rng)
		var mean float64
		for p := range v {
			mean += v[p] * m.Mu[p]
		}
		for _, c := range []struct {
			name  string
			scale float64
			want  func(p int) float64
			tol   float64
		}{
			{"points", 0, func(int) float64 { return 1 / (2 * mean) }, 1e-9},
			{"no end", math.Inf(1), func(p int) float64 { return 1 / (2 * m.Mu[p]) }, 1e-9},
			{"near points", 1e-5, func(int) float64 { return 1 / (2 * mean) }, 1e-2},
			{"nearly no end", 1e9, func(p int) float64 { return 1 / (2 * m.Mu[p]) }, 1e-3},
			{"very near points", 1e-12, func(int) float64 { return 1 / (2 * mean) }, 1e-4},
		} {
			s := Mosaic{Mu: m.Mu, Common: m.Common * c.scale, Spread: m.Spread}
			for p, got := range s.Paths(v) {
				if want := c.want(p); !(math.Abs(got/want-1) < c.tol) {
					t.Fatalf("%s: phase %d of %+v at %v: %v, want %v", c.name, p, s, v, got, want)
				}
			}
		}
	}
}

// The integral against steps of the differential equation itself (Runge and Kutta), and the stationary share of each phase.
func TestMosaicEquation(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	for range 40 {
		m, v := randomMosaic(rng)
		flux, _ := m.contacts(v)
		n, c := len(v), (1+m.Spread)/2
		rate := zeros(n)
		fastest := 0.0
		for p := range n {
			for q := range n {
				if flux[p][q] != flux[q][p] {
					t.Fatalf("contacts of %d and %d: %v, %v", p, q, flux[p][q], flux[q][p])
				}
				rate[p][q] += flux[p][q] / (c * v[p])
				rate[p][p] -= flux[p][q] / (c * v[p])
			}
			rate[p][p] -= m.Mu[p]
			fastest = max(fastest, -rate[p][p])
		}
		if least := slicesMin(m.Mu); fastest/least > 3000 {
			continue
		}
		want := integrateByStep(rate, slicesMin(m.Mu), fastest)
		for p, got := range m.Paths(v) {
			if !(math.Abs(got/want[p]-1) < 2e-4) {
				t.Fatalf("phase %d of %+v at %v: %v, steps give %v", p, m, v, got, want[p])
			}
		}
	}
}

func slicesMin(v []float64) float64 {
	least := math.Inf(1)
	for _, x := range v {
		least = min(least, x)
	}
	return least
}

func integrateByStep(a [][]float64, slowest, fastest float64) []float64 {
	n := len(a)
	e, sum := make([]float64, n), make([]float64, n)
	for p := range e {
		e[p] = 1
	}
	slope := func(e []float64) []float64 {
		out := make([]float64, n)
		for p := range out {
			for q := range e {
				out[p] += a[p][q] * e[q]
			}
		}
		return out
	}
	plus := func(e, k []float64, h float64) []float64 {
		out := make([]float64, n)
		for p := range out {
			out[p] = e[p] + h*k[p]
		}
		return out
	}
	h := 0.02 / fastest
	for x := 0.0; x < 7/slowest; x += h {
		k1 := slope(e)
		k2 := slope(plus(e, k1, h/2))
		k3 := slope(plus(e, k2, h/2))
		k4 := slope(plus(e, k3, h))
		middle := plus(e, k2, h/2)
		next := make([]float64, n)
		for p := range e {
			next[p] = e[p] + h/6*(k1[p]+2*k2[p]+2*k3[p]+k4[p])
			sum[p] += h / 6 * (e[p]*e[p] + 4*middle[p]*middle[p] + next[p]*next[p])
		}
		e = next
	}
	return sum
}

// Regions of each phase have the numbers that their intercepts ask for, where any table of contacts has them.
func TestMosaicContacts(t *testing.T) {
	m := Mosaic{Mu: []float64{1, 1, 1}, Common: 10}
	v := []float64{0.5, 0.3, 0.2}
	flux, _ := m.contacts(v)
	var all float64
	for p := range v {
		for q := range v {
			all += flux[p][q]
			if p != q && math.Abs(flux[p][q]/flux[0][1]/(v[p]*v[q])*(v[0]*v[1])-1) > 1e-6 {
				t.Errorf("random cells touch as v_p v_q: %v", flux)
			}
		}
	}
	if math.Abs(all-1000) > 1e-6 { // 1 cm of a line has 1000 regions of 10 µm
		t.Errorf("%v regions on a cm, want 1000", all)
	}
	m.Intercept = []float64{12, 9, 8}
	flux, _ = m.contacts(v)
	for p := range v {
		var got float64
		for q := range v {
			got += flux[p][q]
		}
		if want := v[p] / m.Intercept[p] * 1e4; math.Abs(got/want-1) > 1e-6 {
			t.Errorf("phase %d: %v regions on a cm, want %v", p, got, want)
		}
	}
}

// The reach of each phase: what is left of the integral beyond it, by the equation of the limits.
func TestMosaicReaches(t *testing.T) {
	m := Mosaic{Mu: []float64{400, 1200}, Spread: 0.5, Common: math.Inf(1)}
	v := []float64{0.6, 0.4}
	for p, got := range m.Reaches(v, 0.95) { // exp(−2μx) = 0.05
		if want := math.Log(20) / (2 * m.Mu[p]); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("coarse, phase %d: %v, want %v", p, got, want)
		}
	}
	m.Common = 0
	for p, got := range m.Reaches(v, 0.95) {
		if want := math.Log(20) / (2 * 720); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("fine, phase %d: %v, want %v", p, got, want)
		}
	}
	m.Common = 10
	a := m.Reaches(v, 0.95)
	if !(a[0] < math.Log(20)/800 && a[0] > a[1] && a[1] > math.Log(20)/2400) {
		t.Errorf("between the limits: %v", a)
	}
}

// What goes in comes out: intensities of known volumes, over all sizes.
func TestMosaicVolumesRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 500 {
		m, v := randomMosaic(rng)
		path := m.Paths(v)
		y := make([]float64, len(v))
		for p := range v {
			y[p] = 37 * v[p] * path[p]
		}
		got, err := m.Volumes(y)
		if err != nil {
			t.Fatal(err)
		}
		for p := range v {
			if !(math.Abs(got[p]-v[p]) < 1e-9) {
				t.Fatalf("%+v: %v, want %v", m, got, v)
			}
		}
	}
}

func TestMosaicRefuses(t *testing.T) {
	for _, c := range []struct {
		m Mosaic
		y []float64
	}{
		{Mosaic{Mu: []float64{0, 1}, Common: 3}, []float64{1, 1}},
		{Mosaic{Mu: []float64{1, math.NaN()}, Common: 3}, []float64{1, 1}},
		{Mosaic{Mu: []float64{1, 1}, Common: 3}, []float64{0, 0}},
		{Mosaic{Mu: []float64{1, 1}, Common: 3}, []float64{math.NaN(), 0}},
		{Mosaic{Mu: []float64{1, 1}, Common: 3}, []float64{1, math.Inf(1)}},
		{Mosaic{Mu: []float64{1, 1}, Common: math.NaN()}, []float64{1, 1}},
	} {
		if v, err := c.m.Volumes(c.y); err == nil {
			t.Errorf("%+v of %v: %v, want an error", c.m, c.y, v)
		}
	}
	v, err := Mosaic{Mu: []float64{5, 9}, Common: 3}.Volumes([]float64{2, 0})
	if err != nil || v[0] != 1 || v[1] != 0 {
		t.Errorf("one phase: %v, %v", v, err)
	}
}

func BenchmarkMosaicVolumes(b *testing.B) {
	m := Mosaic{Mu: []float64{450, 1100, 300, 900}, Common: 12, Spread: 0.5}
	for b.Loop() {
		if _, err := m.Volumes([]float64{0.7, 0.14, 0.12, 0.04}); err != nil {
			b.Fatal(err)
		}
	}
}

// The derivatives against what must hold: the coarse limit is that of shares; only the product of absorption and length counts,
// so that the derivatives to all intercepts together are those to the absorption, here by a step eighty times as large.
func TestMosaicSlopes(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	for range 60 {
		m, v := randomMosaic(rng)
		path := m.Paths(v)
		y := make([]float64, len(v))
		for p := range v {
			y[p] = v[p] * path[p]
		}
		s, err := m.Slopes(y)
		if err != nil {
			t.Fatal(err)
		}
		const h = 0.08
		at := func(change float64) []float64 {
			k := m
			k.Mu = nil
			for _, mu := range m.Mu {
				k.Mu = append(k.Mu, mu*math.Exp(change))
			}
			out, _ := k.Volumes(y)
			return out
		}
		up, down := at(h), at(-h)
		for p := range v {
			want := math.Log(up[p]/down[p]) / (2 * h)
			got, all := s.Common[p], 0.0
			for q := range v {
				got += s.Intercept[p][q]
				all += s.Intensity[p][q]
			}
			if !(math.Abs(got-want) < 2e-3) {
				t.Fatalf("%+v: to all intercepts %v, to the absorption %v", m, got, want)
			}
			if !(math.Abs(all) < 1e-5) { // the level of all intensities does not count
				t.Fatalf("%+v: to all intensities %v", m, all)
			}
		}
		m.Common, m.Intercept = math.Inf(1), nil
		s, _ = m.Slopes(y)
		c, _ := m.Volumes(y)
		for p := range v {
			for q := range v {
				want := -c[q]
				if p == q {
					want++
				}
				if !(math.Abs(s.Intensity[p][q]-want) < 1e-5) || math.Abs(s.Common[p]) > 1e-9 || math.Abs(s.Spread[p]) > 1e-9 {
					t.Fatalf("coarse limit: %v to %d, want %v; %v %v", s.Intensity[p], q, want, s.Common, s.Spread)
				}
			}
		}
	}
}

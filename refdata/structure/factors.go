package structure

import (
	"fmt"
	"math"

	"phasetally/refdata/element"
)

// An amplitude is Σ f exp(2πi h·x) in its parts: f = (f0 + f′) + i f″ and cosine and sine sums, so that the mean of |F|² of both
// Friedel mates is the sum of the four squares.
type amplitude struct{ realCos, realSin, imagCos, imagSin float64 }

func (a amplitude) square() float64 {
	return a.realCos*a.realCos + a.realSin*a.realSin + a.imagCos*a.imagCos + a.imagSin*a.imagSin
}

// structureFactors fills in the mean |F|² of reflections at a wavelength. It returns the least sure basis of f′ and f″.
func (s *Structure) structureFactors(list []reflection, wavelength float64) (element.Basis, error) {
	images := 0
	for i := range s.Sites {
		images += len(s.Sites[i].images)
	}
	if n := float64(images) * float64(len(list)); n > maxTerms {
		return 0, fmt.Errorf("%w: %d atoms times %d families of reflections", ErrTooBig, images, len(list))
	}
	total := make([]amplitude, len(list))
	form := make([]float64, len(list))
	w := newWaves(list)
	dispersion := s.dispersion
	if dispersion == nil {
		dispersion = element.Dispersion
	}
	basis := element.Tabulated
	for _, e := range s.elements() {
		fp, fpp, b := dispersion(e.Z, wavelength)
		basis = max(basis, b)
		for i := range list {
			form[i] = e.F0(list[i].q2/4) + fp
		}
		for i := range s.Sites {
			if site := &s.Sites[i]; site.Element == e {
				w.add(site, list)
				scale := site.Occupancy * float64(len(s.group.centring))
				for j := range list {
					t := scale * math.Exp(-site.B*list[j].q2/4)
					c, sn := t*w.cos[j], t*w.sin[j]
					a := &total[j]
					a.realCos += form[j] * c
					a.realSin += form[j] * sn
					a.imagCos += fpp * c
					a.imagSin += fpp * sn
				}
			}
		}
	}
	for i := range list {
		list[i].f2 = total[i].square()
	}
	return basis, nil
}

// waves sums exp(2πi h·x) over the images of a site for all reflections, with a table of powers of exp(2πi x) per image and index.
type waves struct {
	cos, sin []float64
	table    [3][]complex128 // exp(2πi n x), n from −max to max
	most     [3]int
}

func newWaves(list []reflection) *waves {
	w := &waves{cos: make([]float64, len(list)), sin: make([]float64, len(list))}
	for _, r := range list {
		w.most[0], w.most[1], w.most[2] = max(w.most[0], r.h, -r.h), max(w.most[1], r.k, -r.k), max(w.most[2], r.l, -r.l)
	}
	for i, n := range w.most {
		w.table[i] = make([]complex128, 2*n+1)
	}
	return w
}

func (w *waves) add(site *Site, list []reflection) {
	clear(w.cos)
	clear(w.sin)
	for _, x := range site.images {
		for axis, n := range w.most {
			sin, cos := math.Sincos(2 * math.Pi * x[axis])
			one, power := complex(cos, sin), complex(1, 0)
			for i := 0; i <= n; i++ {
				if i&31 == 31 { // keeps the error of repeated products at rounding level
					sin, cos = math.Sincos(2 * math.Pi * math.Mod(x[axis]*float64(i), 1))
					power = complex(cos, sin)
				}
				w.table[axis][n+i] = power
				w.table[axis][n-i] = complex(real(power), -imag(power))
				power *= one
			}
		}
		th, tk, tl := w.table[0], w.table[1], w.table[2]
		for j := range list {
			r := &list[j]
			e := th[r.h+w.most[0]] * tk[r.k+w.most[1]] * tl[r.l+w.most[2]]
			w.cos[j] += real(e)
			w.sin[j] += imag(e)
		}
	}
}

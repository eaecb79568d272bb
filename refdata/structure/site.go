package structure

import (
	"math"

	"phasetally/refdata"
)

// nearness is the distance, Å, below which two images of an atom are one atom on a special position.
const nearness = 0.05

// place puts a position exactly on its special position, the mean of all images within nearness of it, and expands it: images are
// the atoms of the cell without those that centring adds, multiplicity counts all.
func place(x [3]float64, g *group, metric refdata.Metric) (at [3]float64, images [][3]float64, multiplicity int) {
	at, n := settle(x, g, metric)
	for range 3 { // on its place it may turn out to lie near a place of still higher symmetry
		again, more := settle(at, g, metric)
		if at = again; more == n {
			break
		}
		n = more
	}
	multiplicity = max(1, g.order()/n)
	if n == 1 {
		images = make([][3]float64, len(g.cosets))
		for i, op := range g.cosets {
			images[i] = op.Apply(at)
		}
		return at, images, multiplicity
	}
	for _, op := range g.cosets {
		if y := op.Apply(at); !g.near(images, y, metric) {
			images = append(images, y)
		}
	}
	return at, images, len(images) * len(g.centring)
}

// settle returns the mean of the images within nearness of x, and their number: the order of the site's symmetry.
func settle(x [3]float64, g *group, metric refdata.Metric) (mean [3]float64, n int) {
	var sum [3]float64
	for _, op := range g.cosets {
		y := op.Apply(x)
		for _, c := range g.centring {
			d, near := closest(y, c, x, metric)
			if near {
				n++
				for i := range sum {
					sum[i] += d[i]
				}
			}
		}
	}
	for i := range mean {
		mean[i] = x[i] + sum[i]/float64(n)
	}
	return mean, n
}

// closest returns the shortest lattice-equivalent of y + c − x, as far as the metric is near orthogonal, and whether it is near.
func closest(y, c, x [3]float64, metric refdata.Metric) (d [3]float64, near bool) {
	for i := range d {
		d[i] = y[i] + c[i] - x[i]
		d[i] -= math.Round(d[i])
	}
	return d, metric.Norm2(d[0], d[1], d[2]) < nearness*nearness
}

// near reports whether a point lies on one of the images or on what centring makes of them.
func (g *group) near(images [][3]float64, y [3]float64, metric refdata.Metric) bool {
	for _, image := range images {
		for _, c := range g.centring {
			if _, near := closest(y, c, image, metric); near {
				return true
			}
		}
	}
	return false
}

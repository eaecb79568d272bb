package leastsq

import "gonum.org/v1/gonum/blas/blas64"

// blockPoints is how many points are multiplied at a time: 40 rows of them stay in the
// second level of cache.
const blockPoints = 256

// A gram accumulates weighted normal equations block by block: the rows of a block are copied with their weights into
// one small buffer that stays in cache, and rows that are zero throughout the block are left out.
type gram struct {
	block  []float64 // rows of the block, weighted, each blockPoints long
	target []float64
	active []int // which row each row of the block is
}

func newGram(rows int) *gram {
	return &gram{
		block:  make([]float64, (rows+1)*blockPoints), // one more to try the next row in
		target: make([]float64, blockPoints),
		active: make([]int, 0, rows),
	}
}

// add fills normal[i*stride+j] for from ≤ i < len(rows), j ≤ i with Σ_p w_p² row_i row_j, and rhs[i] for all i with
// Σ_p w_p² row_i target. A nil weight means 1.
func (g *gram) add(rows [][]float64, from int, target, weight, normal []float64, stride int, rhs []float64) {
	for i := range rows {
		rhs[i] = 0
		if i >= from {
			clear(normal[i*stride : i*stride+i+1])
		}
	}
	for lo := 0; lo < len(target); lo += blockPoints {
		hi := min(lo+blockPoints, len(target))
		first := g.load(rows, from, target, weight, lo, hi)
		for a, i := range g.active {
			rhs[i] += dot(g.row(a), g.target)
		}
		for a := first; a < len(g.active); a++ {
			g.multiply(a, normal, stride)
		}
	}
}

// load copies points lo to hi, weighted, and returns the position of the first active row that is from or later.
func (g *gram) load(rows [][]float64, from int, target, weight []float64, lo, hi int) int {
	g.active = g.active[:0]
	first := 0
	if weight != nil {
		weight = weight[lo:hi]
	}
	for i, row := range rows {
		if i == from {
			first = len(g.active)
		}
		if weigh(g.row(len(g.active)), row[lo:hi], weight) {
			g.active = append(g.active, i)
		}
	}
	weigh(g.target, target[lo:hi], weight)
	return first
}

func (g *gram) row(a int) []float64 { return g.block[a*blockPoints : (a+1)*blockPoints] }

// weigh fills dst with src times weight, padded with zeros, and says whether any of it is not zero.
func weigh(dst, src, weight []float64) bool {
	some := false
	if weight == nil {
		copy(dst, src)
		for _, v := range src {
			some = some || v != 0
		}
	} else {
		weight = weight[:len(src)]
		head := dst[:len(src)]
		for p, v := range src {
			some = some || v != 0
			head[p] = v * weight[p]
		}
	}
	clear(dst[len(src):])
	return some
}

// multiply adds the products of active row a with those up to it.
func (g *gram) multiply(a int, normal []float64, stride int) {
	x := g.row(a)
	row := normal[g.active[a]*stride:]
	for b, j := range g.active[:a+1] {
		row[j] += dot(x, g.row(b))
	}
}

// dot is the product of two rows of equal length.
func dot(x, y []float64) float64 {
	return blas64.Dot(blas64.Vector{N: len(x), Inc: 1, Data: x}, blas64.Vector{N: len(x), Inc: 1, Data: y})
}

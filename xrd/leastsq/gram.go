package leastsq

// blockPoints is how many points are multiplied at a time: 40 rows of them stay in the first two cache levels.
const blockPoints = 128

// A gram accumulates weighted normal equations block by block: the rows of a block are copied with their weights into
// one small buffer that stays in cache, rows that are zero throughout the block are left out, and the products are
// formed two rows against four at a time so that every number loaded is used several times.
type gram struct {
	block  []float64 // rows of the block, weighted, each blockPoints long
	target []float64
	active []int // which row each row of the block is
}

func newGram(rows int) *gram {
	return &gram{
		block:  make([]float64, (rows+4)*blockPoints), // up to four rows of padding
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
		for a := first; a < len(g.active); a += 2 {
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
	clear(g.block[len(g.active)*blockPoints : (len(g.active)+4)*blockPoints])
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

// multiply adds the products of the active rows a and a+1 with all rows up to them.
func (g *gram) multiply(a int, normal []float64, stride int) {
	x, y := g.row(a), g.row(a+1)
	for b := 0; b <= a+1; b += 4 {
		px, py := tile(x, y, g.block[b*blockPoints:(b+4)*blockPoints])
		for k := range 4 {
			if b+k <= a {
				normal[g.active[a]*stride+g.active[b+k]] += px[k]
			}
			if a+1 < len(g.active) && b+k <= a+1 {
				normal[g.active[a+1]*stride+g.active[b+k]] += py[k]
			}
		}
	}
}

// tile returns the products of x and of y with four consecutive rows.
func tile(x, y, four []float64) (px, py [4]float64) {
	x, y = x[:blockPoints], y[:blockPoints]
	r0, r1 := four[:blockPoints], four[blockPoints:2*blockPoints]
	r2, r3 := four[2*blockPoints:3*blockPoints], four[3*blockPoints:4*blockPoints]
	var x0, x1, x2, x3, y0, y1, y2, y3 float64
	for p := range blockPoints {
		u, v := x[p], y[p]
		a, b, c, d := r0[p], r1[p], r2[p], r3[p]
		x0 += u * a
		x1 += u * b
		x2 += u * c
		x3 += u * d
		y0 += v * a
		y1 += v * b
		y2 += v * c
		y3 += v * d
	}
	return [4]float64{x0, x1, x2, x3}, [4]float64{y0, y1, y2, y3}
}

func dot(x, y []float64) float64 {
	var even, odd float64
	y = y[:len(x)]
	p := 0
	for ; p+1 < len(x); p += 2 {
		even += x[p] * y[p]
		odd += x[p+1] * y[p+1]
	}
	if p < len(x) {
		even += x[p] * y[p]
	}
	return even + odd
}

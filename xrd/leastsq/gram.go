package leastsq

import "gonum.org/v1/gonum/floats"

const (
	// blockPoints is how many points are multiplied at a time: 40 rows of them stay in the second level of cache.
	blockPoints = 256
	// partPoints is about how many points one core does at a time, and mostParts how many such parts there are at most.
	partPoints = 1024
	mostParts  = 64
)

// A gram accumulates weighted normal equations. The points are cut into parts that depend on nothing but their number;
// each part has sums of its own, which are added in order, so that the result is the same to the last bit however many
// cores share the parts. Within a part the rows of a block of points are copied with their weights into one small buffer
// that stays in cache, and rows that are zero throughout the block are left out.
//
// Rows are those of the moving columns and derivatives; between them lie the columns that are fixed for a whole fit.
type gram struct {
	points, size int         // of a row and of the normal matrix
	moving       int         // rows before the fixed columns
	fixed        []Strip     // weighted
	parts        []sums      // one a part
	workspaces   []workspace // one a core
	weight       []float64   // of each point, or nil
}

// sums are what one part adds.
type sums struct{ normal, right []float64 }

// A workspace is where one core works on a block.
type workspace struct {
	block  []float64 // rows of the block, weighted, each blockPoints long
	target []float64
	active []int // which row each row of the block is
}

// newGram allocates normal equations of size rows, of which those from moving on up to moving + fixed are fixed, in
// the memory of an old one if there is enough.
func newGram(points, size, moving, fixed int, old *gram) *gram {
	g := &gram{points: points, size: size, moving: moving, fixed: make([]Strip, fixed)}
	copy(g.fixed, old.fixed)
	g.parts = make([]sums, min(mostParts, (points+partPoints-1)/partPoints))
	copy(g.parts, old.parts)
	for i, p := range g.parts {
		g.parts[i] = sums{sized(p.normal, size*size), sized(p.right, size)}
	}
	g.workspaces = make([]workspace, cores(len(g.parts)))
	copy(g.workspaces, old.workspaces)
	for i, d := range g.workspaces {
		g.workspaces[i] = workspace{sized(d.block, (size-fixed+1)*blockPoints), // one more to try the next row in
			sized(d.target, blockPoints), d.active[:0]}
	}
	return g
}

// bounds returns the points of a part.
func (g *gram) bounds(part int) (lo, hi int) {
	return part * g.points / len(g.parts), (part + 1) * g.points / len(g.parts)
}

// fix takes the weights of a fit (nil means 1) and its fixed columns, and fills their part of the normal matrix.
func (g *gram) fix(columns []Strip, weight, normal []float64, stride int) {
	g.weight = weight
	for j, column := range columns {
		first, end := column.Bounds()
		s := &g.fixed[j]
		s.First, s.Values = first, sized(s.Values, end-first)
		weigh(s.Values, column.Values, part(weight, first, end))
		for k := range j + 1 {
			normal[(g.moving+j)*stride+g.moving+k] = g.fixed[j].times(g.fixed[k])
		}
	}
}

// part returns the weights of some points, nil when there are none.
func part(weight []float64, first, end int) []float64 {
	if weight == nil {
		return nil
	}
	return weight[first:end]
}

// times is the product of two strips.
func (s Strip) times(o Strip) float64 {
	first, end := max(s.First, o.First), min(s.First+len(s.Values), o.First+len(o.Values))
	if first >= end {
		return 0
	}
	return dot(s.Values[first-s.First:end-s.First], o.Values[first-o.First:end-o.First])
}

// place returns the row of the normal matrix that belongs to moving row i.
func (g *gram) place(i int) int {
	if i < g.moving {
		return i
	}
	return i + len(g.fixed)
}

// add fills the sums of a part with the products, weights squared, of the rows number from and later with all rows before
// them and with the fixed columns, and of all of them with the target.
func (g *gram) add(core, part int, rows [][]float64, from int, target []float64) {
	s, d := g.parts[part], &g.workspaces[core]
	clear(s.normal)
	clear(s.right)
	lo, hi := g.bounds(part)
	for ; lo < hi; lo += blockPoints {
		end := min(lo+blockPoints, hi)
		first := d.load(rows, from, target, g.weight, lo, end)
		length := end - lo
		for a, i := range d.active {
			s.right[g.place(i)] += dot(d.row(a, length), d.target[:length])
		}
		for a := first; a < len(d.active); a++ {
			g.multiply(d, a, length, s.normal)
		}
		g.border(d, first, lo, length, s)
	}
}

// multiply adds the products of active row a with those up to it.
func (g *gram) multiply(d *workspace, a, length int, normal []float64) {
	x := d.row(a, length)
	row := normal[g.place(d.active[a])*g.size:]
	for b, i := range d.active[:a+1] {
		row[g.place(i)] += dot(x, d.row(b, length))
	}
}

// border adds the products of the fixed columns with the target and with the active rows from number first on.
func (g *gram) border(d *workspace, first, lo, length int, s sums) {
	for j, f := range g.fixed {
		if first, end := f.Bounds(); first >= lo+length || end <= lo {
			continue
		}
		column := g.moving + j
		s.right[column] += f.times(Strip{lo, d.target[:length]})
		for a := first; a < len(d.active); a++ {
			i, k := g.place(d.active[a]), column
			if i < k {
				i, k = k, i
			}
			s.normal[i*g.size+k] += f.times(Strip{lo, d.row(a, length)})
		}
	}
}

// sum adds the parts, in order, into the rows from number first up to last of a normal matrix and the right-hand side of
// all rows before last. The products of fixed columns with each other are not touched.
func (g *gram) sum(first, last int, normal []float64, stride int, right []float64) {
	fixed := g.moving + len(g.fixed)
	for i := range last {
		right[i] = 0
		for _, s := range g.parts {
			right[i] += s.right[i]
		}
		if i < first {
			continue
		}
		n := i + 1
		if i >= g.moving && i < fixed {
			n = g.moving
		}
		row := normal[i*stride : i*stride+n]
		clear(row)
		for _, s := range g.parts {
			for j, v := range s.normal[i*g.size : i*g.size+n] {
				row[j] += v
			}
		}
	}
}

// load copies points lo to hi, weighted, and returns the position of the first active row that is from or later.
func (d *workspace) load(rows [][]float64, from int, target, weight []float64, lo, hi int) int {
	d.active = d.active[:0]
	first := 0
	weight = part(weight, lo, hi)
	for i, row := range rows {
		if i == from {
			first = len(d.active)
		}
		if weigh(d.row(len(d.active), hi-lo), row[lo:hi], weight) {
			d.active = append(d.active, i)
		}
	}
	if from >= len(rows) {
		first = len(d.active)
	}
	weigh(d.target[:hi-lo], target[lo:hi], weight)
	return first
}

func (d *workspace) row(a, length int) []float64 {
	return d.block[a*blockPoints : a*blockPoints+length]
}

// weigh fills dst with src times weight and says whether any of it is not zero.
func weigh(dst, src, weight []float64) bool {
	some := false
	dst = dst[:len(src)]
	if weight == nil {
		copy(dst, src)
		for _, v := range src {
			some = some || v != 0
		}
		return some
	}
	weight = weight[:len(src)]
	for p, v := range src {
		some = some || v != 0
		dst[p] = v * weight[p]
	}
	return some
}

// dot is the product of a row with as much of another.
func dot(x, y []float64) float64 { return floats.Dot(x, y[:len(x)]) }

package leastsq

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// gramOf returns the sums of rows without fixed columns.
func gramOf(rows [][]float64, target, weight []float64) *gram {
	g := newGram(len(target), len(rows), len(rows), 0, &gram{})
	g.fix(nil, weight, nil, 0)
	for part := range g.parts {
		g.add(0, part, rows, 0, target)
	}
	return g
}

// TestGramAgainstSums compares the blocked products with plain sums, for columns that are zero in part, some of them
// fixed, and lengths that are no multiple of a block or part.
func TestGramAgainstSums(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 22))
	for _, points := range []int{1, 7, blockPoints, blockPoints + 1, partPoints + 1, 3*partPoints + 5} {
		for range 10 {
			moving, fixed, later := random.IntN(4), random.IntN(5), random.IntN(4)
			n := moving + fixed + later
			rows := matrix(n, points)
			for _, row := range rows {
				from := random.IntN(points)
				for i := from; i < points && i < from+points/2+1; i++ {
					row[i] = random.NormFloat64()
				}
			}
			target, weight := make([]float64, points), make([]float64, points)
			for i := range target {
				target[i], weight[i] = random.NormFloat64(), random.Float64()
			}
			for _, w := range [][]float64{weight, nil} {
				g := newGram(points, n, moving, fixed, &gram{})
				normal, rhs := make([]float64, n*n), make([]float64, n)
				for i := range normal {
					normal[i] = math.NaN() // what must not be touched
				}
				var strips []Strip
				for _, row := range rows[moving : moving+fixed] {
					first, end := 0, points
					for first < end && row[first] == 0 {
						first++
					}
					for first < end && row[end-1] == 0 {
						end--
					}
					strips = append(strips, Strip{first, row[first:end]})
				}
				g.fix(strips, w, normal, n)
				for part := range g.parts {
					g.add(0, part, rows[:moving], 0, target)
				}
				g.sum(0, moving+fixed, normal, n, rhs)
				for i := range n {
					for j := range n {
						if i >= moving+fixed || j > i {
							require.True(t, math.IsNaN(normal[i*n+j]))
						} else {
							require.InDelta(t, weighted(rows[i], rows[j], w), normal[i*n+j], 1e-11)
						}
					}
				}
				for part := range g.parts {
					g.add(0, part, append(append([][]float64{}, rows[:moving]...), rows[moving+fixed:]...), moving, target)
				}
				g.sum(moving+fixed, n, normal, n, rhs)
				for i := range n {
					require.InDelta(t, weighted(rows[i], target, w), rhs[i], 1e-11)
					for j := range i + 1 {
						require.InDelta(t, weighted(rows[i], rows[j], w), normal[i*n+j], 1e-11)
					}
				}
			}
		}
	}
}

// TestShare runs every part once whatever the number of cores, and hands on a panic.
func TestShare(t *testing.T) {
	for _, n := range []int{1, 2, 5} {
		done := make([]int, 17)
		share(n, len(done), func(core, part int) {
			assert.Less(t, core, n)
			done[part]++
		})
		for _, d := range done {
			assert.Equal(t, 1, d)
		}
		assert.PanicsWithValue(t, "part 3", func() {
			share(n, 5, func(_, part int) {
				if part == 3 {
					panic("part 3")
				}
			})
		})
	}
}

func weighted(x, y, weight []float64) float64 {
	sum := 0.0
	for i := range x {
		if weight != nil {
			sum += x[i] * y[i] * weight[i] * weight[i]
		} else {
			sum += x[i] * y[i]
		}
	}
	return sum
}

// TestInvert compares the two inverses of normal equations with the definition.
func TestInvert(t *testing.T) {
	random := rand.New(rand.NewPCG(23, 24))
	const n, points = 6, 30
	for range 20 {
		rows := matrix(n+1, points)
		for k, row := range rows {
			for i := range row {
				row[i] = random.NormFloat64() * math.Pow(10, float64(4*k-12))
			}
		}
		chosen := []bool{true, true, false, true, true, true}
		normal, rhs := make([]float64, n*n), make([]float64, n)
		gramOf(rows[:n], rows[n], nil).sum(0, n, normal, n, rhs)
		a, lostA, _ := invert(normal, n, chosen)
		pseudo := make([]float64, n*n)
		lostB := pseudoInvert(normal, n, chosen, pseudo)
		assert.Empty(t, lostA)
		assert.Empty(t, lostB)
		for i := range n {
			for j := range n {
				size := math.Sqrt(a[i*n+i] * a[j*n+j])
				if !chosen[i] || !chosen[j] {
					size = 1
					assert.Zero(t, a[i*n+j])
				}
				assert.InDelta(t, 0, (a[i*n+j]-pseudo[i*n+j])/size, 1e-9)
				if chosen[i] && chosen[j] {
					product := 0.0
					for k := range n {
						if chosen[k] {
							product += at(normal, n, i, k) * a[k*n+j]
						}
					}
					want := 0.0
					if i == j {
						want = 1
					}
					assert.InDelta(t, want, product*math.Sqrt(normal[j*n+j]/normal[i*n+i]), 1e-9)
				}
			}
		}
	}
}

// TestShorten asks for radii from a millionth of the undamped step on, at every condition.
func TestShorten(t *testing.T) {
	problem := newDense(200, 4, 6).problem()
	f := (*projection)(nil).renewed(problem)
	require.NoError(t, f.start())
	require.True(t, f.linearise())
	_, whole := f.propose(0)
	for part := 1e-6; part < 0.9; part *= 3 {
		d := descent{projection: f, radius: part * whole, damping: 1e-3}
		predicted, size, _ := d.shorten(whole)
		assert.InDelta(t, 1, size/d.radius, 0.1, "%g", part)
		assert.Positive(t, predicted)
	}
}

// TestBoundedStepNeverGrows compares the promise along the way through many bounds: a step keeps them, promises what the quadratic
// says of it, and no less than the undamped step cut off at the first bound it meets.
func TestBoundedStepNeverGrows(t *testing.T) {
	random := rand.New(rand.NewPCG(27, 28))
	for range 200 {
		const n = 6
		rows := matrix(n, n)
		target := make([]float64, n)
		for k := range n {
			for i := range n {
				rows[k][i] = random.NormFloat64()
			}
			target[k] = random.NormFloat64()
		}
		lower, upper := make([]float64, n), make([]float64, n)
		q := newReducedNormal(n)
		for k := range n {
			q.scale[k], q.g[k] = math.Sqrt(dot(rows[k], rows[k])), dot(rows[k], target)
			for i := range k + 1 {
				q.r[k*n+i] = dot(rows[k], rows[i])
			}
			lower[k], upper[k] = -random.Float64(), random.Float64()
		}
		// reduction is ‖target‖² − ‖target − Σ δ_k row_k‖².
		reduction := func(delta []float64) float64 {
			rest := append([]float64(nil), target...)
			for k, d := range delta {
				for i := range rest {
					rest[i] -= d * rows[k][i]
				}
			}
			return dot(target, target) - dot(rest, rest)
		}
		step := newBoundedStep(q, lower, upper, q.scale)
		for _, damping := range []float64{0, 0.1, 3} {
			x := make([]float64, n)
			promise, _ := step.solve(damping, x)
			assert.GreaterOrEqual(t, promise, 0.0)
			step.move(x)
			assert.Equal(t, step.delta, x, "the promise is that of the step taken")
			assert.InDelta(t, reduction(x), promise, 1e-9)
			for k, v := range x {
				assert.True(t, lower[k] <= v && v <= upper[k])
			}
			if damping > 0 {
				continue
			}
			free, whole := []bool{true, true, true, true, true, true}, make([]float64, n)
			q.minimise(0, free, whole, make([]float64, n))
			part := 1.0
			for k, v := range whole {
				if v > 0 {
					part = min(part, upper[k]/v)
				} else if v < 0 {
					part = min(part, lower[k]/v)
				}
			}
			for k := range whole {
				whole[k] *= part
			}
			assert.GreaterOrEqual(t, promise, reduction(whole)-1e-9)
		}
	}
}

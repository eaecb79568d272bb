package quantify

func zeros(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// add adds c to the upper left of m.
func add(m, c [][]float64) {
	for i := range c {
		for j := range c[i] {
			m[i][j] += c[i][j]
		}
	}
}

func pick(v []float64, indices []int) []float64 {
	out := make([]float64, len(indices))
	for i, k := range indices {
		out[i] = v[k]
	}
	return out
}

// divided returns a over b, element by element.
func divided(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = a[i] / b[i]
	}
	return out
}

func square(x float64) float64 { return x * x }

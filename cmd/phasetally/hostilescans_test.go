//go:build unix

package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
)

// Scans whose noise may be taken for lines, and one with more lines than any specimen: a search through all phases has to end. They
// begin at 20° and have 4001 points in steps of 0.02°.

// interpolatedNoise was measured at every fourth point; straight lines lie between.
func interpolatedNoise(r *rand.Rand) func(i int) float64 {
	const every = 4
	measured := counted(r, 4001/every+2, func(int) float64 { return 400 })
	return func(i int) float64 {
		share := float64(i%every) / every
		return measured[i/every]*(1-share) + measured[i/every+1]*share
	}
}

// smoothedNoise has humps as wide as lines.
func smoothedNoise(r *rand.Rand) func(i int) float64 {
	const reach = 12
	raw := counted(r, 4001+2*reach, func(int) float64 { return 10000 })
	return func(i int) (sum float64) {
		for k := -reach; k <= reach; k++ {
			sum += raw[i+reach+k] * math.Exp(-float64(k*k)/32) / math.Sqrt(32*math.Pi)
		}
		return math.Round(sum)
	}
}

// linesEverywhere has a hundred lines at random angles.
func linesEverywhere(r *rand.Rand) func(i int) float64 {
	lines := make([]float64, 4001)
	for range 100 {
		at, height := r.IntN(len(lines)), 2000*math.Pow(r.Float64(), 3)
		for i := range lines {
			lines[i] += height / (1 + math.Pow(float64(i-at)/3, 2))
		}
	}
	y := counted(r, len(lines), func(i int) float64 { return 100 + lines[i] })
	return func(i int) float64 { return y[i] }
}

// scanOf writes the scan that a function of the point describes; the same in every run.
func scanOf(scan func(r *rand.Rand) func(i int) float64) func(f *os.File) error {
	return func(f *os.File) error {
		at := scan(rand.New(rand.NewPCG(4, 4)))
		return lines(f, "# radiation: Cu\n", 4001, func(i int) string { return fmt.Sprintf("%.2f %g\n", 20+0.02*float64(i), at(i)) })
	}
}

// counted are counts about what is expected.
func counted(r *rand.Rand, n int, expected func(i int) float64) []float64 {
	y := make([]float64, n)
	for i := range y {
		m := expected(i)
		y[i] = math.Max(0, math.Round(m+math.Sqrt(m)*r.NormFloat64()))
	}
	return y
}

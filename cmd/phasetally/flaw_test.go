package main

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// flaws are what detectors and exports do to the intensities of a scan; amount is the last argument of flaw.
var flaws = map[string]func(y []float64, amount float64) []float64{
	"clipped": func(y []float64, level float64) []float64 {
		return changed(y, func(_ int, v float64) float64 { return math.Min(v, level) })
	},
	"rays": func(y []float64, counts float64) []float64 {
		return changed(y, func(i int, v float64) float64 { return v + counts*onEvery(i, 601) })
	},
	"dead": func(y []float64, every float64) []float64 {
		return changed(y, func(i int, v float64) float64 { return v * (1 - onEvery(i, int(every))) })
	},
	"smoothed": func(y []float64, half float64) []float64 {
		return changed(y, func(i int, _ float64) float64 {
			lo, hi, sum := max(0, i-int(half)), min(len(y), i+int(half)+1), 0.0
			for _, v := range y[lo:hi] {
				sum += v
			}
			return sum / float64(hi-lo)
		})
	},
	"rates": func(y []float64, seconds float64) []float64 {
		return changed(y, func(_ int, v float64) float64 { return v / seconds })
	},
	"less": func(y []float64, level float64) []float64 {
		return changed(y, func(_ int, v float64) float64 { return v - level })
	},
}

func changed(y []float64, to func(i int, v float64) float64) []float64 {
	out := make([]float64, len(y))
	for i, v := range y {
		out[i] = to(i, v)
	}
	return out
}

// onEvery is 1 at points n, 2n, 3n and so on, 0 elsewhere.
func onEvery(i, n int) float64 {
	if i > 0 && i%n == 0 {
		return 1
	}
	return 0
}

// flaw FROM TO KIND AMOUNT copies a scan with its intensities changed; KIND coarse keeps every AMOUNTth row.
func flaw(ts *testscript.TestScript, _ bool, args []string) {
	amount, err := strconv.ParseFloat(args[3], 64)
	ts.Check(err)
	var b strings.Builder
	var angles []string
	var y []float64
	for row := range strings.Lines(ts.ReadFile(args[0])) {
		f := strings.Fields(row)
		if strings.HasPrefix(row, "#") || len(f) != 2 {
			b.WriteString(row)
			continue
		}
		v, err := strconv.ParseFloat(f[1], 64)
		ts.Check(err)
		angles, y = append(angles, f[0]), append(y, v)
	}
	every := 1
	if args[2] == "coarse" {
		every = int(amount)
	} else {
		y = flaws[args[2]](y, amount)
	}
	for i := 0; i < len(y); i += every {
		fmt.Fprintf(&b, "%s %.6g\n", angles[i], y[i])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(b.String()), 0o644))
}

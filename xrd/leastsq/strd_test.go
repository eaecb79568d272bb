package leastsq_test

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A strdSet is one nonlinear data set of the NIST Statistical Reference Datasets.
type strdSet struct {
	name       string
	y          []float64
	x          [][]float64 // [point][predictor]
	starts     [2][]float64
	parameters []float64 // certified
	deviations []float64 // certified standard deviations of the parameters
	sumSquares float64   // certified
	residualSD float64   // certified
}

// lre is the log relative error −log10(|got − certified|/|certified|): the number of digits that agree, at most the 11
// that are certified.
func lre(got, certified float64) float64 {
	if got == certified {
		return 11
	}
	digits := -math.Log10(math.Abs(got-certified) / math.Abs(certified))
	if math.IsNaN(digits) {
		return 0
	}
	return max(0, min(digits, 11))
}

func leastLRE(got, certified []float64) float64 {
	least := 11.0
	for i, c := range certified {
		least = min(least, lre(got[i], c))
	}
	return least
}

// strdFolder is where the files of NIST lie beside the project; they are not part of it.
func strdFolder(t testing.TB) string {
	t.Helper()
	folder := filepath.Join("..", "..", "..", "shared", "reference", "strd")
	if _, err := os.Stat(folder); err != nil {
		t.Skipf("SKIPPED, NOT TESTED: the 27 data sets of NIST StRD are not at %s; the typed sets are tested", folder)
	}
	return folder
}

func readSTRD(t testing.TB, name string) strdSet {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(strdFolder(t), name+".dat"))
	require.NoError(t, err)
	return parseSTRD(t, name, string(raw))
}

func parseSTRD(t testing.TB, name, text string) strdSet {
	t.Helper()
	set := strdSet{name: name}
	lines := strings.Split(strings.ReplaceAll(text, "\r", ""), "\n")
	inData := false
	for _, line := range lines {
		fields := strings.Fields(line)
		switch {
		case len(fields) == 6 && strings.HasPrefix(fields[0], "b") && fields[1] == "=":
			v := floats(t, fields[2:])
			set.starts[0] = append(set.starts[0], v[0])
			set.starts[1] = append(set.starts[1], v[1])
			set.parameters = append(set.parameters, v[2])
			set.deviations = append(set.deviations, v[3])
		case strings.HasPrefix(line, "Residual Sum of Squares:"):
			set.sumSquares = floats(t, fields[len(fields)-1:])[0]
		case strings.HasPrefix(line, "Residual Standard Deviation:"):
			set.residualSD = floats(t, fields[len(fields)-1:])[0]
		case len(fields) > 1 && fields[0] == "Data:" && fields[1] == "y":
			inData = true
		case inData && len(fields) >= 2:
			v := floats(t, fields)
			set.y = append(set.y, v[0])
			set.x = append(set.x, v[1:])
		}
	}
	require.NotEmpty(t, set.parameters, name)
	require.Greater(t, len(set.y), len(set.parameters), name)
	return set
}

func floats(t testing.TB, fields []string) []float64 {
	t.Helper()
	values := make([]float64, len(fields))
	for i, f := range fields {
		v, err := strconv.ParseFloat(f, 64)
		require.NoError(t, err)
		values[i] = v
	}
	return values
}

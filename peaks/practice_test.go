package peaks_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/scanfile"
)

// TestPracticeScans compares peaks with the lines that the phases of simulated scans must have: line positions come from
// an independent calculation, zero and displacement from the list of what was simulated.
func TestPracticeScans(t *testing.T) {
	const shared = "../../shared/"
	raw, err := os.ReadFile(shared + "oracle/expected_lines.json")
	if err != nil {
		t.Skip("SKIPPED: the practice scans and their lines (../shared) are not here")
	}
	var phases map[string]struct {
		Lines []struct {
			D    float64 `json:"d"`
			Irel float64 `json:"Irel"`
		} `json:"lines"`
	}
	require.NoError(t, json.Unmarshal(raw, &phases))
	file, err := os.Open(shared + "data/practice/truth.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	num := func(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }
	found, radiations := map[string]peaks.Found{}, map[string]xrd.Radiation{}
	lines := map[string][]float64{}
	strong, missed := 0, 0
	for _, row := range rows[1:] {
		name := row[0]
		if _, done := found[name]; !done {
			in, err := os.Open(shared + "data/practice/" + name + ".xy")
			require.NoError(t, err)
			scan, err := scanfile.Read(in, name)
			in.Close()
			require.NoError(t, err)
			radiations[name], err = xrd.ParseRadiation(row[1])
			require.NoError(t, err)
			found[name] = peaks.Find(scan, radiations[name], peaks.Settings{})
		}
		for _, l := range phases[row[2]].Lines {
			at, ok := xrd.TwoTheta(l.D*num(row[5]), radiations[name].KAlpha1)
			if !ok {
				continue
			}
			at += num(row[10]) + xrd.DisplacementShift(at, num(row[11]), num(row[12]))
			lines[name] = append(lines[name], at)
			f := found[name]
			if l.Irel < 40 || num(row[3]) < 20 || row[8] != "" || at > 88 || at < 22 || f.Peaks[0].TwoTheta > at+2 {
				continue
			}
			strong++
			if nearest(f.Peaks, at) > 0.7*f.Width.At(at) {
				missed++
				t.Logf("%s: %s at %.3f° is %.3f° from a peak", name, row[2], at, nearest(f.Peaks, at))
			}
		}
	}
	unexplained, all := 0, 0
	for name, f := range found {
		for _, p := range f.Peaks {
			if all++; p.Kind == peaks.KAlpha && nearestOf(lines[name], p.TwoTheta) > p.FWHM {
				unexplained++
				t.Logf("%s: no line at %.3f° (%.1f σ, %.2f° wide)", name, p.TwoTheta, p.Significance, p.FWHM)
			}
		}
	}
	t.Logf("%d of %d strong lines missed; %d of %d peaks without a line", missed, strong, unexplained, all)
	assert.LessOrEqual(t, float64(missed), 0.03*float64(strong))
	assert.LessOrEqual(t, float64(unexplained), 0.03*float64(all))
}

func nearest(found []peaks.Peak, at float64) float64 {
	best := math.Inf(1)
	for _, p := range found {
		best = math.Min(best, math.Abs(p.TwoTheta-at))
	}
	return best
}

func nearestOf(angles []float64, at float64) float64 {
	best := math.Inf(1)
	for _, a := range angles {
		best = math.Min(best, math.Abs(a-at))
	}
	return best
}

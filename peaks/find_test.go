package peaks_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/scanfile"
	"phasetally/xrd/xrdtest"
)

var copper = func() xrd.Radiation { r, _ := xrd.ParseRadiation("Cu"); return r }()

func flat(level float64) func(float64) float64 { return func(float64) float64 { return level } }

func TestDebugLook(t *testing.T) {
	if os.Getenv("LOOK") == "" {
		t.Skip()
	}
	files, _ := filepath.Glob("../../shared/data/*/" + os.Getenv("LOOK"))
	for _, name := range files {
		fh, _ := os.Open(name)
		scan, err := scanfile.Read(fh, name)
		require.NoError(t, err)
		f := peaks.Find(scan, copper, peaks.Settings{})
		fmt.Println(name, len(f.Peaks), f.Noise, f.Width, f.Threshold)
		for _, p := range f.Peaks {
			fmt.Printf("%9.4f ±%.4f d %.4f h %8.1f A %9.3f ±%.3f w %.4f ±%.4f η %.2f z %.1f %s %d\n", p.TwoTheta, p.TwoThetaU, p.D, p.Height, p.Area, p.AreaU, p.FWHM, p.FWHMU, p.Eta, p.Significance, p.Kind, p.Of)
		}
		for _, c := range f.Cautions {
			fmt.Println(c.Code, c.Text)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	p := xrdtest.Pattern{Lo: 5, Hi: 150, Step: 0.02, Lines: xrdtest.Spread(1, 60, 15, 148, 5, 5000), Background: flat(100)}
	scan := p.Scan(b, 1)
	var found peaks.Found
	for b.Loop() {
		found = peaks.Find(scan, copper, peaks.Settings{})
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*scan.Len()), "ns/point")
	b.ReportMetric(float64(len(found.Peaks)), "peaks")
}

var _ = math.Pi
var _ = strings.Repeat
var _ = assert.New

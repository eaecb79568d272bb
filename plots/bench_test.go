package plots_test

import (
	"testing"

	"phasetally/plots"
	"phasetally/xrd/resultfile/resulttest"
)

// Layout and all six files of a scan, as the main job writes them.
func BenchmarkPatternAndFractions(b *testing.B) {
	r := resulttest.Mixture(1)
	var files map[string][]byte
	for b.Loop() {
		p, err := plots.Pattern(r, plots.Style{}, plots.PatternOptions{})
		if err != nil {
			b.Fatal(err)
		}
		f, err := plots.Fractions(r.Document, plots.Style{})
		if err != nil {
			b.Fatal(err)
		}
		if files, err = plots.Render(map[string]*plots.Figure{"pattern": p, "fractions": f}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(files["pattern.svg"]))/1024, "KiB-svg")
}

func BenchmarkLayout(b *testing.B) {
	for name, r := range map[string]int{"3 phases": 3, "40 phases": 40} {
		result := resulttest.Mixture(1)
		if r > 3 {
			result = resulttest.Many(r)
		}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := plots.Pattern(result, plots.Style{}, plots.PatternOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkFormats(b *testing.B) {
	f, err := plots.Pattern(resulttest.Mixture(1), plots.Style{}, plots.PatternOptions{})
	if err != nil {
		b.Fatal(err)
	}
	for name, write := range map[string]func() ([]byte, error){"svg": f.SVG, "pdf": f.PDF, "png": f.PNG} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := write(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

package series_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/scanfile"
	"phasetally/xrd/series"
)

// Three scans of the invented ageing series with named phases: tin goes, Cu3Sn comes.
func ExampleRun() {
	files := []string{"ageing-000h.xy", "ageing-168h.xy", "ageing-672h.xy"}
	all, err := series.Run(context.Background(), series.Job{
		Files: files, Collection: library.Starter(), Phases: []string{"bronze-alpha", "tin-beta", "cu6sn5-eta", "cu3sn-epsilon"},
		Load: func(i int) (analysis.Job, error) {
			f, err := os.Open(filepath.Join("..", "..", "testdata", files[i]))
			if err != nil {
				return analysis.Job{}, err
			}
			defer f.Close()
			scan, err := scanfile.Read(f, files[i])
			if err != nil {
				return analysis.Job{}, err
			}
			return analysis.Job{Measurement: analysis.Measurement{Scan: scan}}, nil
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, e := range all.Scans {
		fmt.Print(e.File, ":")
		for _, p := range []result.SeriesShare{e.Phases[1], e.Phases[3]} {
			if p.Detected {
				fmt.Printf(" %s %.0f wt%%", p.ID, *p.WeightPercent)
			} else {
				fmt.Printf(" %s not seen", p.ID)
			}
		}
		fmt.Println()
	}
	// Output:
	// ageing-000h.xy: tin-beta 33 wt% cu3sn-epsilon not seen
	// ageing-168h.xy: tin-beta 6 wt% cu3sn-epsilon 10 wt%
	// ageing-672h.xy: tin-beta not seen cu3sn-epsilon 25 wt%
}

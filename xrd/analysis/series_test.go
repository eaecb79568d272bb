package analysis_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/scanfile"
)

// ageing are the scans of the invented ageing series.
var ageing = []string{"ageing-000h.xy", "ageing-024h.xy", "ageing-072h.xy", "ageing-168h.xy", "ageing-336h.xy", "ageing-672h.xy"}

func readScan(t testing.TB, name string) xrd.Scan {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", name))
	require.NoError(t, err)
	defer f.Close()
	s, err := scanfile.Read(f, name)
	require.NoError(t, err)
	return s
}

// jobFor is what the command makes of a scan without flags but the elements.
func jobFor(scan xrd.Scan) analysis.Job {
	ins := xrd.DefaultInstrument()
	ins.Slit = *scan.About.Slit
	j := analysis.Job{Scan: scan, Radiation: *scan.About.Radiation, Instrument: ins, SHA256: scan.About.Sample,
		Specimen: xrd.Specimen{Name: scan.About.Sample, Section: scan.About.Section}}
	j.Filter.Elements = refdata.ElementSet{}.With(29).With(50)
	return j
}

func ageingJob(t testing.TB) analysis.SeriesJob {
	scans := make([]xrd.Scan, len(ageing))
	for i, name := range ageing {
		scans[i] = readScan(t, name)
	}
	return analysis.SeriesJob{Files: ageing, Collection: library.Starter(),
		Load: func(i int) (analysis.Job, error) { return jobFor(scans[i]), nil }}
}

func TestTry(t *testing.T) {
	r, err := analysis.Series(context.Background(), ageingJob(t))
	require.NoError(t, err)
	for _, e := range r.Scans {
		for _, p := range e.Phases {
			w, l := -1.0, -1.0
			if p.WeightPercent != nil { w = *p.WeightPercent }
			if p.DetectionLimit != nil { l = *p.DetectionLimit }
			t.Log(e.File, p.ID, p.Detected, w, l, p.Origin)
		}
		t.Log(e.Cautions, *e.ReducedChiSquare, e.Error)
	}
	t.Log(r.Cautions)
}

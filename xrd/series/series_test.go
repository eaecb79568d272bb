package series_test

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/scanfile"
	"phasetally/xrd/series"
)

// ageing are the scans of the invented ageing series.
var ageing = []string{"ageing-000h.xy", "ageing-024h.xy", "ageing-072h.xy", "ageing-168h.xy", "ageing-336h.xy", "ageing-672h.xy"}

// truthIDs translates the names of the simulation into ids of the starter collection.
var truthIDs = map[string]string{"CuSn_bronze_alpha": "bronze-alpha", "Cu6Sn5_eta": "cu6sn5-eta", "Cu3Sn_eps": "cu3sn-epsilon",
	"Sn_beta": "tin-beta", "Cu2O": "cuprite", "SiC_6H": "sic-6h"}

func seriesScan(t testing.TB, name string) xrd.Scan {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", name))
	require.NoError(t, err)
	defer f.Close()
	s, err := scanfile.Read(f, name)
	require.NoError(t, err)
	return s
}

// seriesOf is what the command makes of scans with --elements Cu,Sn.
func seriesOf(t testing.TB, names ...string) series.Job {
	t.Helper()
	jobs := make([]analysis.Job, len(names))
	for i, name := range names {
		scan := seriesScan(t, name)
		ins := xrd.DefaultInstrument()
		ins.Slit = *scan.About.Slit
		jobs[i] = analysis.Job{Measurement: analysis.Measurement{Scan: scan, SHA256: name},
			Setting: analysis.Setting{Radiation: *scan.About.Radiation, Instrument: ins, Specimen: xrd.Specimen{Name: scan.About.Sample, Section: scan.About.Section}}}
		jobs[i].Filter.Elements = refdata.ElementSet{}.With(29).With(50)
	}
	return series.Job{Files: names, Collection: library.Starter(), Load: func(i int) (analysis.Job, error) { return jobs[i], nil }}
}

// quickSeries is a series of named phases over the part of the scans with the strongest lines.
func quickSeries(t testing.TB, names ...string) series.Job {
	job := seriesOf(t, names...)
	load := job.Load
	job.Load = func(i int) (analysis.Job, error) {
		j, err := load(i)
		j.Range = [2]float64{28, 51}
		return j, err
	}
	job.Phases = []string{"bronze-alpha", "tin-beta", "cu6sn5-eta", "cu3sn-epsilon"}
	return job
}

// ageingTruth returns the wt% that the scans were simulated with, by scan and id.
func ageingTruth(t testing.TB) map[string]map[string]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "truth.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	out := map[string]map[string]float64{}
	for _, r := range rows[1:] {
		v, err := strconv.ParseFloat(r[2], 64)
		require.NoError(t, err)
		if out[r[0]] == nil {
			out[r[0]] = map[string]float64{}
		}
		out[r[0]][truthIDs[r[1]]] = v
	}
	return out
}

// The whole demo: phases found, not named; every fraction against the composition that was simulated.
func TestSeriesFollowsTheTruth(t *testing.T) {
	result, err := series.Run(context.Background(), seriesOf(t, ageing...))
	require.NoError(t, err)
	var ids []string
	for _, p := range result.Phases {
		ids = append(ids, p.ID)
	}
	require.ElementsMatch(t, []string{"bronze-alpha", "tin-beta", "cu6sn5-eta", "cu3sn-epsilon"}, ids, "testdata/truth.csv")
	want := ageingTruth(t)
	var squares float64
	n := 0
	for _, e := range result.Scans {
		require.Empty(t, e.Error)
		w := want[strings.TrimSuffix(e.File, ".xy")]
		for _, p := range e.Phases {
			where := e.File + " " + p.ID
			require.Equal(t, w[p.ID] > 0, p.Detected, where)
			require.NotNil(t, p.DetectionLimit, where)
			if !p.Detected {
				assert.Nil(t, p.WeightPercent, where)
				assert.Less(t, *p.DetectionLimit, 1.5, "%s: the least amount that the series holds was seen elsewhere", where)
				continue
			}
			assert.LessOrEqual(t, *p.WeightPercentLo, w[p.ID], where)
			assert.GreaterOrEqual(t, *p.WeightPercentHi, w[p.ID], where)
			assert.Less(t, *p.DetectionLimit, w[p.ID], where)
			require.NotNil(t, p.FineLimit, "%s: the specimens are sections", where)
			squares += (*p.FineLimit - w[p.ID]) * (*p.FineLimit - w[p.ID]) // the simulation knows no grains
			n++
		}
	}
	assert.Equal(t, 22, n, "fractions that testdata/truth.csv lists for the series")
	assert.Less(t, math.Sqrt(squares/float64(n)), 1.0, "wt%, DESIGN: practice scans")
	require.Len(t, result.Cautions, 1, "six scans alike, which have cautions of their own")
	assert.Equal(t, "scan-cautions", result.Cautions[0].Code)
}

// Grit that only one scan shows is found, counts as preparation there, and has a limit elsewhere.
func TestSeriesFindsWhatOneScanShows(t *testing.T) {
	result, err := series.Run(context.Background(), seriesOf(t, "bushing-aged.xy", "bushing-grit.xy"))
	require.NoError(t, err)
	at := -1
	for k, p := range result.Phases {
		if strings.HasPrefix(p.ID, "sic-") {
			at = k
		}
	}
	require.GreaterOrEqual(t, at, 0, "3 wt% SiC in one scan (testdata/truth.csv): %v", result.Phases)
	clean, gritty := result.Scans[0].Phases[at], result.Scans[1].Phases[at]
	assert.False(t, clean.Detected)
	assert.Nil(t, clean.WeightPercent)
	assert.NotNil(t, clean.DetectionLimit)
	assert.True(t, gritty.Detected)
	assert.Equal(t, "preparation", gritty.Origin, "found, not named: nobody claimed it for the specimen")
}

// A scan that cannot be read, and one that makes the program panic, are entries; the rest is done, in order.
func TestSeriesGoesOnPastBadScans(t *testing.T) {
	job := quickSeries(t, ageing[0], ageing[1], ageing[2], ageing[5])
	load := job.Load
	unreadable := errors.New("ageing-024h.xy:7: expected angle and intensity")
	job.Load = func(i int) (analysis.Job, error) {
		switch i {
		case 1:
			return analysis.Job{}, unreadable
		case 2:
			panic("index out of range")
		}
		return load(i)
	}
	kept := map[int]bool{}
	var mu sync.Mutex
	job.Keep = func(i int, r result.Analysis, e *result.SeriesEntry) error {
		mu.Lock()
		defer mu.Unlock()
		kept[i] = true
		assert.NotEmpty(t, r.Curves.TwoTheta)
		assert.Equal(t, job.Phases, r.Document.PhaseOrder, "the phases of the run, for their colours")
		e.Folder = fmt.Sprint("folder ", i)
		return nil
	}
	var told []int
	job.Progress = func(done, total int) {
		told = append(told, done)
		assert.Equal(t, 4, total)
	}
	result, err := series.Run(context.Background(), job)
	require.NoError(t, err)
	assert.Equal(t, map[int]bool{0: true, 3: true}, kept)
	assert.Equal(t, []int{1, 2, 3, 4}, told)
	assert.Equal(t, unreadable.Error(), result.Scans[1].Error)
	assert.Contains(t, result.Scans[2].Error, "unexpected failure: index out of range")
	for _, i := range []int{0, 3} {
		assert.Empty(t, result.Scans[i].Error)
		assert.Equal(t, fmt.Sprint("folder ", i), result.Scans[i].Folder)
		assert.Len(t, result.Scans[i].Phases, 4)
	}
	require.Len(t, result.Cautions, 2)
	assert.Equal(t, "scan-cautions", result.Cautions[1].Code)
	assert.Equal(t, "scan-failed", result.Cautions[0].Code)
	assert.Contains(t, result.Cautions[0].Text, "ageing-024h.xy, ageing-072h.xy")
}

func TestSeriesDoesNotDependOnWorkers(t *testing.T) {
	var results []result.Series
	for _, workers := range []int{1, 3} {
		job := quickSeries(t, ageing[0], ageing[3], ageing[5])
		job.Workers = workers
		r, err := series.Run(context.Background(), job)
		require.NoError(t, err)
		results = append(results, r)
	}
	assert.Equal(t, results[0], results[1])
}

// What was finished before an interrupt stays, and the error says why the rest is missing.
func TestSeriesKeepsWhatWasDoneBeforeAnInterrupt(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	job := quickSeries(t, ageing...)
	job.Workers = 1
	job.Keep = func(i int, _ result.Analysis, _ *result.SeriesEntry) error {
		if i == 1 {
			cancel()
		}
		return nil
	}
	result, err := series.Run(ctx, job)
	require.ErrorIs(t, err, context.Canceled)
	for i, e := range result.Scans {
		assert.Equal(t, i < 2, e.Error == "", "%d: %s", i, e.Error)
	}
}

func TestSeriesStopsWhenResultsCannotBeKept(t *testing.T) {
	job := quickSeries(t, ageing...)
	full := errors.New("no space left on device")
	job.Workers = 1
	calls := 0
	job.Keep = func(int, result.Analysis, *result.SeriesEntry) error { calls++; return full }
	_, err := series.Run(context.Background(), job)
	require.ErrorIs(t, err, full)
	assert.Equal(t, 1, calls)
}

// An entry of an earlier run stands in for a scan exactly as long as scan and settings are the same.
func TestSeriesReusesEntries(t *testing.T) {
	job := quickSeries(t, ageing[0], ageing[5])
	first, err := series.Run(context.Background(), job)
	require.NoError(t, err)
	require.NotEqual(t, first.Scans[0].Fingerprint, first.Scans[1].Fingerprint)
	again := func(change func(*analysis.Job)) (done []int) {
		next := quickSeries(t, ageing[0], ageing[5])
		load := next.Load
		next.Load = func(i int) (analysis.Job, error) {
			j, err := load(i)
			change(&j)
			return j, err
		}
		next.Workers = 1
		next.Earlier = func(i int, mark string) (result.SeriesEntry, bool) {
			return first.Scans[i], mark == first.Scans[i].Fingerprint
		}
		next.Keep = func(i int, _ result.Analysis, _ *result.SeriesEntry) error { done = append(done, i); return nil }
		r, err := series.Run(context.Background(), next)
		require.NoError(t, err)
		if done == nil {
			assert.Equal(t, first, r)
		}
		return done
	}
	assert.Empty(t, again(func(*analysis.Job) {}))
	assert.Empty(t, again(func(j *analysis.Job) { j.Workers = 7; j.Provenance.Command = "another" }), "neither changes the answer")
	assert.Equal(t, []int{1}, again(func(j *analysis.Job) {
		if j.SHA256 == ageing[5] {
			j.SHA256 = "edited"
		}
	}))
	assert.Equal(t, []int{0, 1}, again(func(j *analysis.Job) { j.Range[1] = 50 }))
	assert.Equal(t, []int{0, 1}, again(func(j *analysis.Job) { j.Provenance.Version = "next" }))
	assert.Equal(t, []int{0, 1}, again(func(j *analysis.Job) { j.Blank = &j.Scan }))
	assert.Equal(t, []int{0, 1}, again(func(j *analysis.Job) { j.Instrument.Radius = 150 }))
}

// A scan of another tube is fitted with its own wavelengths, flagged, and left in the table.
func TestSeriesFlagsMixedRadiationsAndRanges(t *testing.T) {
	job := quickSeries(t, ageing...)
	cobalt, err := xrd.ParseRadiation("Co")
	require.NoError(t, err)
	load := job.Load
	job.Load = func(i int) (analysis.Job, error) {
		j, err := load(i)
		if i == 2 {
			j.Radiation = cobalt // the scan was taken with copper: nothing fits
		}
		if i == 4 {
			j.Range[1] = 50
		}
		return j, err
	}
	r, err := series.Run(context.Background(), job)
	require.NoError(t, err)
	codes := map[string]string{}
	for _, c := range r.Cautions {
		codes[c.Code] = c.Text
		assert.NotEmpty(t, c.Remedy)
	}
	assert.Contains(t, codes["radiation-differs"], "ageing-072h.xy differs")
	assert.Contains(t, codes["range-differs"], "ageing-336h.xy differs")
	assert.Contains(t, codes["series-outlier"], "ageing-072h.xy")
	assert.Contains(t, r.Scans[2].Cautions, "radiation-differs")
	assert.NotContains(t, r.Scans[3].Cautions, "radiation-differs")
}

func TestSeriesRefuses(t *testing.T) {
	ctx := context.Background()
	_, err := series.Run(ctx, series.Job{Collection: library.Starter()})
	require.ErrorIs(t, err, series.ErrNoScans)
	_, err = series.Run(ctx, series.Job{Collection: library.Starter(), Phases: []string{"copper"}})
	require.ErrorIs(t, err, series.ErrNoScans)
	job := quickSeries(t, ageing[0])
	job.Phases = []string{"unobtainium"}
	_, err = series.Run(ctx, job)
	require.ErrorIs(t, err, analysis.ErrUnknownPhase)
	why := errors.New("locked")
	job = series.Job{Files: []string{"a", "b"}, Collection: library.Starter(), Load: func(int) (analysis.Job, error) { return analysis.Job{}, why }}
	_, err = series.Run(ctx, job)
	require.ErrorIs(t, err, series.ErrUnreadable)
	require.ErrorIs(t, err, why)
}

// BenchmarkSeries is the time of a scan with named phases, nothing written.
func BenchmarkSeries(b *testing.B) {
	job := seriesOf(b, ageing...)
	job.Phases = []string{"bronze-alpha", "tin-beta", "cu6sn5-eta", "cu3sn-epsilon"}
	for b.Loop() {
		r, err := series.Run(context.Background(), job)
		require.NoError(b, err)
		require.Empty(b, r.Scans[5].Error)
	}
	b.ReportMetric(float64(b.N*len(ageing))/b.Elapsed().Seconds(), "scans/s")
}

// The search is done once: a run that goes on asks for the phases that were kept, by a mark that follows every scan and
// every setting.
func TestSeriesSearchIsNotRepeated(t *testing.T) {
	var marks []string
	kept := map[string][]string{}
	run := func(names []string, change func(*analysis.Job)) []string {
		job := quickSeries(t, names...)
		job.Phases = nil
		load := job.Load
		job.Load = func(i int) (analysis.Job, error) {
			j, err := load(i)
			change(&j)
			return j, err
		}
		job.EarlierPhases = func(mark string) ([]string, bool) {
			marks = append(marks, mark)
			ids, ok := kept[mark]
			return ids, ok
		}
		job.KeepPhases = func(mark string, ids []string) ([]string, error) { kept[mark] = ids; return ids, nil }
		r, err := series.Run(context.Background(), job)
		require.NoError(t, err)
		assert.False(t, r.Fixed, "found once is still found, not named")
		var ids []string
		for _, p := range r.Phases {
			ids = append(ids, p.ID)
		}
		return ids
	}
	same := func(*analysis.Job) {}
	two := []string{ageing[0], ageing[5]}
	first := run(two, same)
	require.Len(t, kept, 1)
	kept[marks[0]] = first[:2]
	assert.Equal(t, first[:2], run(two, same), "what was kept is believed")
	for why, change := range map[string]func(*analysis.Job){
		"another range":   func(j *analysis.Job) { j.Range[1] = 50 },
		"another content": func(j *analysis.Job) { j.SHA256 += "x" },
		"another filter":  func(j *analysis.Job) { j.Filter.Exclude = []string{"cuprite"} },
		"a phase aside":   func(j *analysis.Job) { j.Aside = []string{"cuprite"} },
		"another limit":   func(j *analysis.Job) { j.Watch = []string{"cuprite"} },
		"another wish":    func(j *analysis.Job) { j.WantedLimit = 1 },
		"another K":       func(j *analysis.Job) { j.External = &analysis.External{K: 1e4} },
	} {
		before := len(kept)
		run(two, change)
		assert.Len(t, kept, before+1, why)
	}
	before := len(kept)
	run([]string{ageing[5], ageing[0]}, same)
	assert.Len(t, kept, before+1, "another order: the first scan says which are alike")

	job := quickSeries(t, two...)
	job.Phases = nil
	full := errors.New("no space left on device")
	job.KeepPhases = func(string, []string) ([]string, error) { return nil, full }
	_, err := series.Run(context.Background(), job)
	require.ErrorIs(t, err, full)
	job.KeepPhases = func(_ string, ids []string) ([]string, error) { return ids, nil }
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = series.Run(gone, job)
	require.ErrorIs(t, err, context.Canceled)
}

// What a stopped run has not reached is told apart from what failed.
func TestStoppedIsNotFailed(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	job := quickSeries(t, ageing[0], ageing[1], ageing[2], ageing[3])
	job.Workers = 1
	load := job.Load
	job.Load = func(i int) (analysis.Job, error) {
		if i == 1 {
			return analysis.Job{}, errors.New("a bad scan")
		}
		if i == 2 {
			cancel()
		}
		return load(i)
	}
	r, err := series.Run(ctx, job)
	require.ErrorIs(t, err, context.Canceled)
	var done []bool
	for _, e := range r.Scans {
		done = append(done, !e.Stopped)
	}
	assert.Equal(t, []bool{true, true, false, false}, done)
	require.Len(t, r.Cautions, 3)
	assert.Equal(t, "series-stopped", r.Cautions[0].Code)
	assert.Contains(t, r.Cautions[0].Text, "2 of 4 scans are not analysed yet")
	assert.Contains(t, r.Cautions[1].Text, "1 scan is without an answer: ageing-024h.xy")
}

// A phase named twice is one phase, and the caller's list stays as it was.
func TestSeriesTakesEachPhaseOnce(t *testing.T) {
	job := quickSeries(t, ageing[0])
	job.Phases = []string{"Tin-Beta", "BRONZE-alpha", "tin-beta"}
	r, err := series.Run(context.Background(), job)
	require.NoError(t, err)
	require.Len(t, r.Phases, 2)
	assert.Len(t, r.Scans[0].Phases, 2)
	assert.Equal(t, []string{"Tin-Beta", "BRONZE-alpha", "tin-beta"}, job.Phases)
	assert.Equal(t, "tin-beta", r.Phases[0].ID)
}

// Fits start from that of the first scan and end where they end alone, whatever the first scan lacks and however far the
// others are displaced from it.
func TestSeriesStartsAlike(t *testing.T) {
	job := seriesOf(t, "ageing-672h.xy", "ageing-000h.xy", "ageing-168h.xy")
	job.Phases = []string{"bronze-alpha", "tin-beta", "cu6sn5-eta", "cu3sn-epsilon"}
	load := job.Load
	job.Load = func(i int) (analysis.Job, error) {
		j, err := load(i)
		if i == 2 {
			j.Scan = displaced(t, j.Scan, 0.4)
		}
		return j, err
	}
	together, err := series.Run(t.Context(), job)
	require.NoError(t, err)
	for i, e := range together.Scans {
		j, _ := job.Load(i)
		j.Collection, j.Phases, j.File = job.Collection, job.Phases, job.Files[i]
		alone, err := analysis.Run(t.Context(), j)
		require.NoError(t, err)
		assert.Equal(t, "converged", e.Status, e.File)
		assert.InEpsilon(t, alone.Document.Fit.RWP, *e.RWP, 2e-3, e.File)
		for _, p := range e.Phases {
			if !p.Detected || p.WeightPercent == nil {
				continue
			}
			own := phase(t, alone.Document, p.ID)
			assert.InDelta(t, *own.WeightPercent, *p.WeightPercent, 0.1*(*own.WeightPercentHi-*own.WeightPercentLo), "%s in %s", p.ID, e.File)
		}
	}
}

// displaced is a scan of a surface so many mm lower; the intensities keep their order.
func displaced(t testing.TB, s xrd.Scan, mm float64) xrd.Scan {
	x := make([]float64, s.Len())
	for i, v := range s.TwoTheta {
		x[i] = v + xrd.DisplacementShift(v, mm, xrd.DefaultInstrument().Radius)
	}
	out, err := xrd.NewScan(x, s.Intensity, nil, s.About)
	require.NoError(t, err)
	return out
}

func phase(t testing.TB, doc result.Document, id string) result.Phase {
	t.Helper()
	for _, p := range doc.Phases {
		if p.ID == id {
			return p
		}
	}
	require.Fail(t, "not found: "+id)
	return result.Phase{}
}

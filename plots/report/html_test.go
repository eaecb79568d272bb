package report_test

import (
	"encoding/json"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

func page(t *testing.T, r result.Analysis) string {
	t.Helper()
	out, err := report.HTML(r, report.Options{Files: []string{"analysis.json", "fit.csv"}})
	require.NoError(t, err)
	return string(out)
}

func TestPageAnswersFirstAndIsComplete(t *testing.T) {
	r := resulttest.Mixture(1)
	s := page(t, r)
	assert.Less(t, len(s), 1_500_000)
	body := s[strings.Index(s, "<main>"):]
	at := 0
	for _, want := range []string{"<h1><bdi>In mixture A (invented) we found fluorite 34.4 ± 0.5 wt%, zincite", `id="fractions"`, "<h2>Pattern", "<h2>Cautions",
		"Spike the powder", "<h2>Evidence", "<h2>Peaks", "<h2>Where the uncertainty", "<h2>Methods", "J. Appl. Cryst. 20 (1987)", "<h2>Provenance",
		r.Document.Scan.SHA256, "<dt>Monochromator</dt><dd><bdi>none</bdi>", "starter collection", `href="./fit.csv"`, "interlocks", "accredited laboratory"} {
		next := strings.Index(body[at:], want)
		require.GreaterOrEqual(t, next, 0, "%q, in this order", want)
		at += next
	}
	for _, want := range []string{"not seen; &lt; 0.32 wt%", "33.9–34.8", "○ missing", "March–Dollase r = 0.940 ± 0.020", "kV, mA, filter"} {
		assert.Contains(t, body, want)
	}
}

func TestPageAsksNothingOfTheNetwork(t *testing.T) {
	s := page(t, resulttest.Mixture(1))
	assert.Contains(t, s, `default-src 'none'`)
	for _, m := range regexp.MustCompile(`(?:src|href|action|poster|data)\s*=\s*"([^"]*)"`).FindAllStringSubmatch(s, -1) {
		assert.Regexp(t, `^(#|\./|data:)`, m[1])
	}
	assert.NotRegexp(t, `@import|fetch\(|XMLHttpRequest|WebSocket|sendBeacon|url\((?:'|")?https?:`, s)
}

// hostile texts stand wherever a file or a user can put words.
func hostile() result.Analysis {
	r := resulttest.Mixture(1)
	const evil = `</script><script>document.title="owned"</script><img src=x onerror=alert(1)>` + "\u202egnp.\" ' `${1}"
	d := &r.Document
	d.Scan.Sample, d.Scan.File, d.Scan.Section, d.Scan.Mount, d.Scan.Slit, d.Scan.Radiation = evil, evil, evil, evil, evil, evil
	d.Provenance.Command, d.Provenance.Given = evil, map[string]string{evil: evil}
	d.References = []result.Reference{{Key: evil, For: evil, Text: evil}}
	d.Provenance.ReferenceData[0].File = evil
	d.NotDetected[0].Name = evil
	d.UnexplainedPeaks[0].CouldBe = []string{evil}
	d.Cautions = []xrd.Caution{{Code: evil, Severity: xrd.SeverityStop, Text: evil, Remedy: evil, Evidence: map[string]any{evil: evil}}}
	d.Fit.Status = evil
	d.Peaks[0].HKL = []string{evil}
	p := &d.Phases[0]
	p.Name, p.Formula, p.Evidence, p.Origin, p.RIROrigin, p.DensityOrigin = evil, evil, evil, evil, evil, evil
	p.Reasons[0].Text = evil
	p.Alternatives = []result.Alternative{{ID: evil, Name: evil}}
	p.Budget[0].Source = evil
	return r
}

func TestEveryTextIsEscaped(t *testing.T) {
	s := page(t, hostile())
	assert.Equal(t, 2, strings.Count(s, "<script"), "the data and the script of the page")
	assert.Equal(t, 2, strings.Count(s, "</script"))
	assert.NotContains(t, s, "<img")
	figure, err := plots.Pattern(hostile(), plots.Style{}, plots.PatternOptions{})
	require.NoError(t, err)
	assert.NotContains(t, string(figure.InlineSVG()), "<img")
}

func TestStopIsSaidBesideTheAnswer(t *testing.T) {
	s := page(t, hostile())
	assert.Contains(t, s, "<strong>Stop:</strong>")
	assert.NotContains(t, page(t, resulttest.Mixture(1)), "<strong>Stop:</strong>")
}

// What the page draws is what the curves say, to four digits.
func TestDataAgreeWithTheCurves(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Curves.Masked = make([]bool, resulttest.Points)
	r.Curves.Masked[40] = true
	s := page(t, r)
	from := strings.Index(s, `id="data">`) + len(`id="data">`)
	raw := s[from : from+strings.Index(s[from:], "</script>")]
	var d struct {
		X, Obs, Bg []float64
		Res        []*float64
		Phases     []struct {
			Name string
			Runs []struct {
				I int
				V []float64
			}
			Lines []struct{ T, D float64 }
		}
	}
	require.NoError(t, json.Unmarshal([]byte(raw), &d))
	require.Len(t, d.X, resulttest.Points)
	assert.Nil(t, d.Res[40])
	for i := range d.X {
		assert.InDelta(t, r.Curves.TwoTheta[i], d.X[i], 1e-4)
		assert.InEpsilon(t, r.Curves.Observed[i]+1, d.Obs[i]+1, 1e-3)
	}
	require.Len(t, d.Phases, 3)
	for k, p := range d.Phases {
		share := make([]float64, len(d.X))
		for _, run := range p.Runs {
			copy(share[run.I:], run.V)
		}
		for i := range share {
			assert.InDelta(t, r.Curves.Phases[k][i], share[i], 0.05*r.Curves.Sigma[i]+1e-3*share[i]+1e-9)
		}
		assert.Len(t, p.Lines, len(r.Document.Phases[k].Lines))
	}
}

func TestOddResults(t *testing.T) {
	nan := math.NaN()
	broken := resulttest.Mixture(1)
	broken.Document.Fit, broken.Document.Provenance.Settings = nil, nil
	broken.Document.Phases[0].WeightPercent, broken.Document.Phases[0].Cell = nil, nil
	broken.Document.Phases[1].RIR = &nan
	broken.Document.Phases[2].Lines, broken.Document.Phases[2].Budget = nil, nil
	broken.Curves.Sigma[9], broken.Curves.Observed[10] = nan, nan
	for name, r := range map[string]result.Analysis{"none": resulttest.Empty(), "40 phases": resulttest.Many(40), "unknowns": broken} {
		s := page(t, r)
		assert.Less(t, len(s), 1_500_000, name)
		assert.Contains(t, s, "</html>", name)
	}
	assert.Contains(t, page(t, resulttest.Empty()), "we found no phase that this scan establishes")
	_, err := report.HTML(result.Analysis{}, report.Options{})
	require.ErrorIs(t, err, plots.ErrNoPoints)
}

// A very long scan is thinned without losing its peaks.
func TestLongScansAreThinned(t *testing.T) {
	var r result.Analysis
	r.Document = resulttest.Empty().Document
	c := &r.Curves
	for i := range 150000 {
		c.TwoTheta = append(c.TwoTheta, 5+0.001*float64(i))
		y := 10.0
		if i%1000 == 777 {
			y = 5000
		}
		c.Observed, c.Calculated, c.Background, c.Sigma = append(c.Observed, y), append(c.Calculated, 10), append(c.Background, 10), append(c.Sigma, 3)
	}
	s := page(t, r)
	assert.Less(t, len(s), 1_500_000)
	from := strings.Index(s, `"obs":[`)
	obs := s[from : from+strings.Index(s[from:], "]")]
	assert.Equal(t, 150, strings.Count(obs, "5000")+strings.Count(obs, "5e+03"))
}

func BenchmarkHTML(b *testing.B) {
	r := resulttest.Mixture(1)
	size := 0
	for b.Loop() {
		out, err := report.HTML(r, report.Options{})
		if err != nil {
			b.Fatal(err)
		}
		size = len(out)
	}
	b.ReportMetric(float64(size)/1024, "KiB")
}

// In a series, a phase has the colour of the series' page in the report of each scan: in the tables, the drawing's data
// and the figures.
func TestReportHasTheColoursOfTheRun(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Document.PhaseOrder = []string{"quartz", "zincite", "corundum", "fluorite"}
	s := page(t, r)
	run := plots.Colouring(r.Document.PhaseOrder)
	for i, want := range map[string]int{"corundum": run[2], "fluorite": run[3], "zincite": run[1]} {
		assert.Contains(t, s, `"name":"`+i+`","colour":"`+plots.PhaseColour(want)+`","hatch":`+string(rune('0'+want)))
		assert.Regexp(t, `<span class="chip" style="background:`+plots.PhaseColour(want)+`"></span><bdi>`+i, s)
	}
	assert.NotContains(t, s, "background:"+plots.PhaseColour(run[0]), "quartz is not in this scan")
}

package resultfile

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// FuzzParseDocument: what is accepted is written and read again without change; nothing panics.
func FuzzParseDocument(f *testing.F) {
	r := resulttest.Mixture(1)
	r.Document.Phases, r.Document.Peaks = r.Document.Phases[:1], r.Document.Peaks[:2]
	r.Document.Phases[0].Lines = r.Document.Phases[0].Lines[:2]
	seed, err := JSON(r.Document)
	require.NoError(f, err)
	f.Add(seed)
	f.Add([]byte(`{"schema":"phasetally.analysis/1","phases":[{"scale":null,"lines":null}],"cautions":[{"evidence":null}]}`))
	f.Add([]byte(`{"schema":"other"}`))
	f.Fuzz(func(t *testing.T, in []byte) {
		doc, err := parseDocument(in)
		if err != nil {
			return
		}
		once, err := JSON(doc)
		require.NoError(t, err)
		again, err := parseDocument(once)
		require.NoError(t, err)
		twice, err := JSON(again)
		require.NoError(t, err)
		require.Equal(t, string(once), string(twice))
		FractionsCSV(doc)
		PeaksCSV(doc)
	})
}

// FuzzParseFit: a refusal is a *xrd.SyntaxError, what is accepted survives a round trip.
func FuzzParseFit(f *testing.F) {
	const header = "two_theta_deg,observed_intensity,sigma_intensity,calculated_intensity,background_intensity,masked,a_intensity\n"
	for _, s := range []string{header + "5,1,1,1,1,0,0\n5.02,2,,1.5,1,1,0.5\n", header, "", header + "5,x,1,1,1,0,0\n", header + "5,1\n", "\"", header + "1e999,1,1,1,1,0,0\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		c, err := parseFit(in, "fit.csv", 1)
		if err != nil {
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			return
		}
		doc := result.Document{Phases: []result.Phase{{ID: "a"}}}
		once, err := FitCSV(doc, c)
		require.NoError(t, err)
		again, err := parseFit(once, "fit.csv", 1)
		require.NoError(t, err)
		twice, err := FitCSV(doc, again)
		require.NoError(t, err)
		require.Equal(t, string(once), string(twice))
	})
}

// FuzzSeriesJSON: what is read from a series.json is written and read again without change, as is an entry; its tables are written
// without a panic.
func FuzzSeriesJSON(f *testing.F) {
	f.Add([]byte(`{"schema":"phasetally.series/1","phases":[{"id":"copper","name":"copper","formula":"Cu"}],"scans":[{"file":"a.xy","phases":[{"id":"copper","weight_percent":100}],"cautions":[]}],"cautions":[]}`))
	f.Add([]byte(`{"schema":"phasetally.series/1","scans":[{"file":"a.xy","error":"x","phases":null},{}],"conditions":{"columns":["h"],"rows":{"a.xy":["1","2"]}}}`))
	f.Add([]byte(`{"schema":"phasetally.series/1","phases":null,"scans":null,"cautions":[{"evidence":null}]}`))
	f.Fuzz(func(t *testing.T, in []byte) {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, "series.json"), in, 0o600))
		s, err := ReadSeries(dir)
		if err != nil {
			return
		}
		once, err := SeriesJSON(s)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "series.json"), once, 0o600))
		again, err := ReadSeries(dir)
		require.NoError(t, err)
		twice, err := SeriesJSON(again)
		require.NoError(t, err)
		require.Equal(t, string(once), string(twice))
		SeriesCSV(s)
	})
}

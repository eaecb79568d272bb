package plots_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

func number(v float64) *float64 { return &v }

// odd are documents that an analysis can give, or a file can hold, with nothing, very much or impossible numbers in them.
func odd() map[string]result.Document {
	out := map[string]result.Document{"nothing": {}, "usual": resulttest.Mixture(1).Document}
	unknown := resulttest.Mixture(1).Document
	for i := range unknown.Phases {
		p := &unknown.Phases[i]
		p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi = nil, nil, nil
	}
	out["no fractions"] = unknown
	broken := resulttest.Mixture(1).Document
	for i := range broken.Phases {
		p := &broken.Phases[i]
		p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi = number(math.NaN()), number(math.Inf(-1)), number(1e300)
		p.Name = strings.Repeat("a very long name ", 9) + "<&>\x00\u202e"
	}
	out["impossible numbers"] = broken
	many := resulttest.Mixture(1).Document
	one := many.Phases[0]
	many.Phases = nil
	for k := range 40 {
		p := one
		p.ID, p.Name = fmt.Sprintf("phase-%d", k), fmt.Sprintf("phase %d", k)
		p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi = number(2.5), number(2), number(3)
		many.Phases = append(many.Phases, p)
	}
	out["forty phases"] = many
	limits := result.Document{NotDetected: []result.NotDetected{{ID: "q", Name: "quartz", DetectionLimit: number(0.3), Asked: true}, {ID: "w", Name: "wax", Asked: true}}}
	out["limits alone"] = limits
	return out
}

// styles are all media, light and dark.
func styles() (out []plots.Style) {
	for _, m := range []plots.Medium{plots.TwoColumn, plots.OneColumn, plots.Slide} {
		out = append(out, plots.Style{Medium: m}, plots.Style{Medium: m, Dark: true})
	}
	return out
}

// Whatever a document holds, the fractions are a figure of finite size, in well-formed SVG that says what it shows, in PDF and in PNG.
func TestFractionsOfOddDocuments(t *testing.T) {
	for name, doc := range odd() {
		for _, style := range styles() {
			f, err := plots.Fractions(doc, style)
			require.NoError(t, err, name)
			checkFigure(t, f, name)
		}
	}
}

// The evidence and the budget of a phase are figures wherever the phase is, and an error where it is not.
func TestFiguresOfOnePhase(t *testing.T) {
	for name, doc := range odd() {
		for _, p := range doc.Phases {
			f, err := plots.Evidence(doc, p.ID, plots.Style{})
			require.NoError(t, err, name)
			checkFigure(t, f, name)
			break
		}
		_, err := plots.Evidence(doc, "nobody", plots.Style{})
		assert.Error(t, err, name)
	}
	f, err := plots.Budget(resulttest.Mixture(1).Document, plots.Style{})
	require.NoError(t, err)
	checkFigure(t, f, "budget")
}

func checkFigure(t *testing.T, f *plots.Figure, name string) {
	t.Helper()
	w, h := f.Size()
	require.True(t, w > 50 && w < 2000 && h > 20 && h < 4000, "%s: %g × %g", name, w, h)
	assert.NotEmpty(t, f.Title(), name)
	assert.NotEmpty(t, f.Description(), name)
	svg, err := f.SVG()
	require.NoError(t, err, name)
	assert.NotContains(t, string(svg), "NaN", name)
	assert.NotContains(t, string(svg), "Inf", name)
	said := map[string]string{}
	var inside string
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err, name)
		switch x := token.(type) {
		case xml.StartElement:
			inside = x.Name.Local
		case xml.CharData:
			said[inside] += string(x)
		case xml.EndElement:
			inside = ""
		}
	}
	assert.NotEmpty(t, said["title"], name)
	assert.NotEmpty(t, said["desc"], name)
}

// The same document gives the same bytes in every format, and each is a file of its kind.
func TestFilesAreReproducible(t *testing.T) {
	render := func() map[string][]byte {
		f, err := plots.Pattern(resulttest.Mixture(1), plots.Style{}, plots.PatternOptions{})
		require.NoError(t, err)
		files, err := plots.Render(map[string]*plots.Figure{"pattern": f})
		require.NoError(t, err)
		return files
	}
	one, two := render(), render()
	require.Len(t, one, 3)
	for name, b := range one {
		assert.True(t, bytes.Equal(b, two[name]), name)
		head := map[string]string{"svg": "<", "pdf": "%PDF-", "png": "\x89PNG"}[name[strings.LastIndex(name, ".")+1:]]
		assert.True(t, strings.HasPrefix(string(b), head) && head != "", name)
	}
}

// A ring stands for a line whose verdict is that it is missing, whatever its numbers are; without such a line none is explained.
func TestRingsAreMissingLines(t *testing.T) {
	for _, c := range []struct {
		verdict result.LineVerdict
		ring    bool
	}{{result.LineMissing, true}, {result.LineSeen, false}, {result.LineWeak, false}, {result.LineOverlapped, false}, {"", false}} {
		r := resulttest.Mixture(1)
		for i := range r.Document.Phases {
			for k := range r.Document.Phases[i].Lines {
				r.Document.Phases[i].Lines[k].Verdict = result.LineSeen
			}
		}
		lines := r.Document.Phases[1].Lines
		at := 0
		for k := range lines { // the strongest: a weak one has no stick
			if lines[k].Expected > lines[at].Expected {
				at = k
			}
		}
		lines[at].Verdict = c.verdict
		f, err := plots.Pattern(r, plots.Style{}, plots.PatternOptions{})
		require.NoError(t, err)
		found := false
		for _, s := range f.Texts() {
			found = found || s == "expected, not seen"
		}
		assert.Equal(t, c.ring, found, "verdict %q", c.verdict)
	}
}

// The ranges of plotters hold what they draw: every fraction with its interval, every line, every angle.
func TestRangesHoldTheData(t *testing.T) {
	r := resulttest.Mixture(1)
	_, most, _, _ := plots.NewBars(r.Document, plots.Style{}).DataRange()
	for _, p := range r.Document.Phases {
		assert.GreaterOrEqual(t, most, *p.WeightPercentHi)
	}
	lanes, err := plots.NewLanes(r, plots.Style{}, false)
	require.NoError(t, err)
	xmin, xmax, ymin, ymax := lanes.DataRange()
	assert.Equal(t, float64(len(lanes.Names())), ymax-ymin)
	for _, p := range r.Document.Phases {
		for _, l := range p.Lines {
			assert.True(t, xmin <= l.TwoTheta && l.TwoTheta <= xmax)
		}
	}
	shares, err := plots.NewShares(r, plots.Style{}, 30, 50)
	require.NoError(t, err)
	lo, hi, _, top := shares.DataRange()
	assert.True(t, lo >= 29.9 && hi <= 50.1, "%g to %g", lo, hi)
	for i, x := range r.Curves.TwoTheta {
		if x >= 30 && x <= 50 {
			assert.GreaterOrEqual(t, top, r.Curves.Calculated[i])
		}
	}
	trends, err := plots.NewTrends(resulttest.Series(7), plots.Style{})
	require.NoError(t, err)
	_, _, low, high := trends.DataRange()
	for _, s := range resulttest.Series(7).Scans {
		for _, p := range s.Phases {
			if p.WeightPercent != nil {
				assert.True(t, low <= *p.WeightPercent && *p.WeightPercent <= high)
			}
		}
	}
}

// The √ scale maps its range onto 0 to 1, rises, and gives small numbers more room than the linear one.
func TestSqrtScaleIsAScale(t *testing.T) {
	assert.InDelta(t, 0.5, plots.SqrtScale{}.Normalize(0, 100, 25), 1e-12, "by hand: √25/√100")
	rnd := rand.New(rand.NewPCG(3, 3))
	for range 500 {
		lo := 100 * rnd.Float64()
		hi := lo + 1e4*rnd.Float64() + 1
		s := plots.SqrtScale{}
		assert.InDelta(t, 0, s.Normalize(lo, hi, lo), 1e-12)
		assert.InDelta(t, 1, s.Normalize(lo, hi, hi), 1e-12)
		a, b := lo+(hi-lo)*rnd.Float64(), lo+(hi-lo)*rnd.Float64()
		assert.Equal(t, a < b, s.Normalize(lo, hi, a) < s.Normalize(lo, hi, b))
		assert.GreaterOrEqual(t, s.Normalize(lo, hi, a)+1e-12, (a-lo)/(hi-lo))
	}
}

// Ticks lie in the range, rise, are no more than asked for, and are labelled with numbers that can be read back.
func TestTicksCanBeRead(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 4))
	for range 500 {
		lo := math.Round(1000*(rnd.Float64()-0.3)) / 10
		hi := lo + math.Pow(10, 4*rnd.Float64()-1)
		last, labels := math.Inf(-1), 0
		for _, k := range (plots.Ticks{Most: 8}).Ticks(lo, hi) {
			assert.True(t, k.Value >= lo-1e-9*math.Abs(hi) && k.Value <= hi+1e-9*math.Abs(hi), "%g of %g to %g", k.Value, lo, hi)
			assert.Greater(t, k.Value, last)
			last = k.Value
			if k.Label == "" {
				continue
			}
			labels++
			var v float64
			_, err := fmt.Sscan(strings.NewReplacer("−", "-", "\u2009", "", "\u202f", "", " ", "").Replace(k.Label), &v)
			require.NoError(t, err, "%q", k.Label)
			assert.InDelta(t, k.Value, v, 1e-6*math.Max(1, math.Abs(hi)), k.Label)
		}
		assert.LessOrEqual(t, labels, 9)
		assert.GreaterOrEqual(t, labels, 1, "%g to %g", lo, hi)
	}
}

// A phase keeps its colour and hatch whatever else is found, as long as the order of the phases is known; neighbours differ.
func TestColoursStay(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.PhaseOrder = []string{"zincite", "fluorite", "corundum", "quartz"}
	slots := map[string]int{}
	for k, s := range plots.Slots(doc) {
		slots[doc.Phases[k].ID] = s
	}
	fewer := doc
	fewer.Phases = doc.Phases[1:]
	for k, s := range plots.Slots(fewer) {
		assert.Equal(t, slots[fewer.Phases[k].ID], s, fewer.Phases[k].ID)
	}
	seen := map[int]bool{}
	for _, s := range slots {
		assert.False(t, seen[s])
		seen[s] = true
	}
	for k := range 40 {
		assert.Regexp(t, `^#[0-9A-F]{6}$`, plots.PhaseColour(k))
	}
}

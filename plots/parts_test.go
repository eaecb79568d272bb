package plots

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
)

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		a    axis
		gap  float64
		want []float64
	}{
		{newAxis(0, 10, 0, 100, false), 20, []float64{0, 2, 4, 6, 8, 10}},
		{newAxis(5, 150, 0, 100, false), 15, []float64{50, 100, 150}},
		{newAxis(0, 10000, 100, 0, true), 15, []float64{0, 5000, 10000, 2000, 500}},
		{newAxis(-1, 1, 0, 100, false), 40, []float64{-1, 0, 1}},
		{newAxis(3, 3, 0, 100, false), 40, nil},
		{newAxis(0, math.Inf(1), 0, 100, false), 40, nil},
	} {
		var got []float64
		for _, tick := range c.a.ticks(c.gap, &English) {
			got = append(got, tick.Value)
			assert.Equal(t, plain(tick.Value), tick.Label)
		}
		assert.ElementsMatch(t, c.want, got, "%+v", c.a)
		for i, v := range got {
			for _, o := range got[:i] {
				assert.GreaterOrEqual(t, math.Abs(c.a.at(v)-c.a.at(o)), c.gap-1e-9)
			}
		}
	}
}

func TestAxisEndsAndOrder(t *testing.T) {
	for _, sqrt := range []bool{false, true} {
		a := newAxis(-4, 900, 200, 10, sqrt)
		assert.InDelta(t, 200, a.at(-4), 1e-9)
		assert.InDelta(t, 10, a.at(900), 1e-9)
		last := math.Inf(1)
		for v := -4.0; v <= 900; v += 7 {
			assert.Less(t, a.at(v), last)
			last = a.at(v)
		}
		assert.Equal(t, 10.0, a.clip(1e9))
	}
	assert.InDelta(t, 100, newAxis(0, 4, 200, 0, true).at(1), 1e-9, "√1 is half of √4")
}

// No thinning may lose the highest or the lowest point of any stretch.
func TestDecimateKeepsExtremes(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var x, y []float64
	for i := range 7251 {
		x, y = append(x, 5+0.02*float64(i)), append(y, rng.NormFloat64()+50*math.Exp(-math.Pow(float64(i%500)-250, 2)))
	}
	a := newAxis(5, 150, 40, 500, false)
	keep := decimate(a, x, y, 0.36)
	require.True(t, slices.IsSorted(keep))
	assert.Less(t, len(keep), 2*1280)
	for from := 0; from+200 < len(y); from += 97 {
		kept := math.Inf(-1)
		for _, i := range keep {
			if i >= from-8 && i < from+208 {
				kept = math.Max(kept, y[i])
			}
		}
		assert.GreaterOrEqual(t, kept, slices.Max(y[from:from+200]))
	}
	assert.Equal(t, []int{0, 1, 2}, decimate(newAxis(0, 2, 0, 90, false), []float64{0, 1, 2}, []float64{5, 6, 7}, 0.3), "few points stay")
}

// A hatch covers its band evenly: the length of all lines times their distance is the area.
func TestHatchFillsTheBand(t *testing.T) {
	b := band{}
	area := 0.0
	for i := range 400 {
		x := float64(i) * 0.5
		b.x, b.bottom, b.top = append(b.x, x), append(b.bottom, 200), append(b.top, 200-60*math.Exp(-math.Pow(x-100, 2)/900)-20)
		if i > 0 {
			area += 0.25 * (400 - b.top[i] - b.top[i-1])
		}
	}
	for _, angle := range []float64{0, 20, 45, -45, 60} {
		for _, pitch := range []float64{2, 3.7} {
			runs := b.lines(-math.Tan(angle*math.Pi/180), pitch)
			length := 0.0
			for _, r := range runs {
				length += math.Hypot(r[len(r)-1].x-r[0].x, r[len(r)-1].y-r[0].y)
				for _, p := range r {
					k := min(int(p.x/0.5), len(b.x)-2)
					assert.LessOrEqual(t, p.y, 200+1e-6)
					assert.GreaterOrEqual(t, p.y, math.Min(b.top[k], b.top[k+1])-1e-6)
				}
			}
			assert.InEpsilon(t, area, length*pitch, 0.05, "angle %g, pitch %g", angle, pitch)
		}
	}
	assert.Empty(t, band{x: []float64{0, 1, 2}, bottom: []float64{5, 5, 5}, top: []float64{5, 5, 5}}.outline(0.1))
}

func TestPiecesLoseNoPoint(t *testing.T) {
	var path vg.Path
	for i := range 1000 {
		path.Line(vg.Point{X: vg.Length(i)})
	}
	path[0].Type = vg.MoveComp
	path.Move(vg.Point{})
	path.Line(vg.Point{X: 1, Y: 1})
	steps := 0
	list := pieces(path)
	for k, part := range list {
		require.Equal(t, vg.MoveComp, part[0].Type)
		if k > 0 && part[0].Pos != (vg.Point{}) { // the second line begins at the origin
			require.Equal(t, list[k-1][len(list[k-1])-1].Pos, part[0].Pos, "no gap at a cut")
		}
		require.LessOrEqual(t, len(part), pieceLength+2)
		for _, c := range part {
			if c.Type == vg.LineComp {
				steps++
			}
		}
	}
	assert.Equal(t, 999+1, steps)
	assert.Greater(t, len(list), 10)
	path.Close()
	assert.Len(t, pieces(path), 1, "a closed path stays whole")
}

func TestCleanAndFit(t *testing.T) {
	assert.Equal(t, "a b", clean("a\tb\x00\u202e"))
	assert.Equal(t, "□ α-Fe2O3 Å", clean("相 α-Fe2O3 Å"))
	short := fit("a name that is far too long for its place", 10, false, 60)
	assert.LessOrEqual(t, textWidth(short, 10, false), 60.0)
	assert.Contains(t, short, "…")
	assert.Equal(t, "short", fit("short", 10, false, 60))
	for _, line := range wrap("several words that need more than one line", 10, false, 80) {
		assert.LessOrEqual(t, textWidth(line, 10, false), 80.0)
	}
}

// TestInlineLettersKeepTheirWidth: whatever font a page has, a label takes the room that the drawing left for it.
func TestInlineLettersKeepTheirWidth(t *testing.T) {
	fig := newFigure(Style{}, 50)
	fig.write(label{x: 90, y: 20, size: 8, anchor: 1, bold: true, colour: hex("#000000"), text: "scatter of lines"})
	inline := string(fig.InlineSVG())
	assert.Contains(t, inline, fmt.Sprintf(`textLength="%s" lengthAdjust="spacingAndGlyphs"`, num(textWidth("scatter of lines", 8, true))))
	whole, err := fig.SVG()
	require.NoError(t, err)
	assert.NotContains(t, string(whole), "textLength", "its own letters need no help")
}

func FuzzTextInFigures(f *testing.F) {
	for _, s := range []string{"corundum", "<script>alert(1)</script>", "\u202eabc", "\xff\xfe", "𝛼", "a\nb", "", "&amp;", "]]>"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		fig := newFigure(Style{}, 50)
		fig.title, fig.about = s, s
		fig.write(label{x: 5, y: 20, size: 8, colour: hex("#000000"), text: s})
		fig.write(label{x: 50, y: 40, size: 8, anchor: 0.5, bold: true, vertical: true, colour: hex("#000000"), text: s})
		requireXML(t, fig.InlineSVG())
		for _, it := range items(fig) {
			b := it.label.box()
			require.True(t, b.right >= b.left && b.bottom >= b.top) // accents alone have no width
			require.True(t, utf8.ValidString(it.label.text))
		}
	})
}

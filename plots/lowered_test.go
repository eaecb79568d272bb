package plots

import (
	"encoding/xml"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// Digits below the line are smaller and lower, and what follows them joins without a gap: every piece begins where the one
// before it ends, and the whole is as wide as was planned for.
func TestDigitsBelowTheLine(t *testing.T) {
	type piece struct {
		text    string
		x, y, z float64
	}
	var got []piece
	fillLowered(letters(false, 10), vg.Point{X: 5, Y: 7}, "Cu₆Sn₁₀ (η)", func(f font.Face, at vg.Point, s string) {
		got = append(got, piece{s, float64(at.X), float64(at.Y), float64(f.Font.Size)})
	})
	require.Len(t, got, 5)
	at := 5.0
	for i, want := range []string{"Cu", "6", "Sn", "10", " (η)"} {
		assert.Equal(t, want, got[i].text)
		size, y := 10.0, 7.0
		if i%2 == 1 {
			size, y = 6.8, 5.6
		}
		assert.InDelta(t, size, got[i].z, 1e-9)
		assert.InDelta(t, y, got[i].y, 1e-9)
		assert.InDelta(t, at, got[i].x, 1e-9)
		at += textWidth(want, size, false)
	}
	assert.InDelta(t, at-5, textWidth("Cu₆Sn₁₀ (η)", 10, false), 1e-9)

	spans := loweredSpans("Cu₆Sn₅ <η>", 10)
	assert.Equal(t, `Cu<tspan font-size="6.8" dy="1.4">6</tspan><tspan dy="-1.4">Sn</tspan><tspan font-size="6.8" dy="1.4">5</tspan><tspan dy="-1.4"> &lt;η&gt;</tspan>`, spans)
	require.NoError(t, xml.Unmarshal([]byte("<t>"+spans+"</t>"), new(struct{})))
	assert.Equal(t, strings.Repeat("x", 3), loweredSpans("xxx", 10), "a text without them is as it was")
}

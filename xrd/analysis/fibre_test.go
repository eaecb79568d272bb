package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSectionsOfATexture: from a transverse section of a piece in which (1 1 1) of copper gathers about the axis with
// r = 0.75, as simulated, it is said what both sections show.
func TestSectionsOfATexture(t *testing.T) {
	j := simulated(t, "transverse", "copper", "cu3sn-epsilon")
	j.Specimen.Section = "transverse"
	doc := run(t, j)
	s := phase(t, doc, "copper").Sections
	require.NotNil(t, s)
	assert.Equal(t, [3]int{1, 1, 1}, s.Pole)
	assert.InDelta(t, 0.75, s.R, 0.03)
	byLine := map[int][2]float64{} // by h² + k² + l²
	for _, l := range s.Lines {
		byLine[l.H*l.H+l.K*l.K+l.L*l.L] = [2]float64{l.Transverse, l.Longitudinal}
	}
	// By hand for 111: one of four normals along the pole, three at cos² = 1/9: [0.75⁻³ + 3 (0.5625/9 + 8/9/0.75)^−1.5]/4.
	assert.InDelta(t, 1.132, byLine[3][0], 0.03)
	assert.Greater(t, byLine[8][1], byLine[8][0], "220 is stronger along the piece")
	assert.Nil(t, phase(t, doc, "cu3sn-epsilon").Sections, "it is not textured")
	assert.Contains(t, caution(t, doc, "texture").Text, "a longitudinal section would show")
	j.Specimen.Section = "powder"
	assert.Nil(t, phase(t, run(t, j), "copper").Sections, "a powder has no sections")
}

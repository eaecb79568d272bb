package report

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Flags stay in one piece, formulae have their numbers below, and nothing else of a text is markup.
func TestWordedCautions(t *testing.T) {
	assert.Equal(t, `state it with <span class="flag">--intercept</span> MICRON±U:ID; Cu<sub>6</sub>Sn<sub>5</sub> (&lt;b&gt;) &lt;script&gt;`, string(worded("state it with --intercept MICRON±U:ID; Cu6Sn5 (<b>) <script>")))
	assert.Equal(t, `a -- b - -c`, string(worded("a -- b - -c")))
}

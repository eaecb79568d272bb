package xrd_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
)

// Counted by hand; CA and ABC differ by three, since a swapped pair is not edited again.
func TestEditDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "slit", 4}, {"slit", "slit", 0}, {"silt", "slit", 1}, {"radiaton", "radiation", 1}, {"radiation", "radtaion", 2}, {"ca", "abc", 3}, {"tin", "zinc", 2}, {"kitten", "sitting", 3}} {
		assert.Equal(t, c.want, xrd.EditDistance(c.a, c.b), c)
		assert.Equal(t, c.want, xrd.EditDistance(c.b, c.a), c)
	}
}

func TestOneLine(t *testing.T) {
	assert.Equal(t, "a b c d", xrd.OneLine("a\nb\r\nc\rd"))
}

func TestPrintable(t *testing.T) {
	assert.Equal(t, "a[31mb\tc\nö 日本 قطعة", xrd.Printable("a\x1b[31m\x07b\tc\r\n\u202eö\u2066 日本 \u200fقطعة\u0085"))
}

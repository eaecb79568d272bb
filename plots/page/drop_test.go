package page

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A name that a browser sends becomes one that stays in its folder on every system.
func FuzzPlainFileName(f *testing.F) {
	for _, name := range []string{"scan.xy", "../../x", `..\y`, "", "...", "a\x00b", "CON", "\u202ex", strings.Repeat("ü", 300)} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		plain := plainFileName(name)
		assert.True(t, filepath.IsLocal(plain), plain)
		assert.Equal(t, plain, filepath.Base(plain))
		assert.False(t, strings.HasPrefix(plain, ".") || strings.HasPrefix(plain, "-"), plain)
		assert.NotContains(t, plain, `\`)
		assert.LessOrEqual(t, len([]rune(plain)), longestName)
		assert.Equal(t, plain, plainFileName(plain), "it is one already")
	})
}

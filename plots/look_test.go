package plots

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"phasetally/xrd/resultfile/resulttest"
)

func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		t.Skip()
	}
	r := resulttest.Mixture(1)
	for name, s := range map[string]Style{"two": {}, "one": {Medium: OneColumn}, "slide": {Medium: Slide, Dark: true}} {
		f, err := Pattern(r, s, PatternOptions{})
		require.NoError(t, err)
		g, err := Fractions(r.Document, s)
		require.NoError(t, err)
		z, err := Pattern(r, s, PatternOptions{Lo: 24, Hi: 60, Linear: true, HKL: true})
		require.NoError(t, err)
		e, err := Evidence(r.Document, "corundum", s)
		require.NoError(t, err)
		b, err := Budget(r.Document, s)
		require.NoError(t, err)
		files, err := Render(map[string]*Figure{name + "-evidence": e, name + "-budget": b, name + "-pattern": f, name + "-fractions": g, name + "-zoom": z})
		require.NoError(t, err)
		many, err := Pattern(resulttest.Many(40), s, PatternOptions{})
		require.NoError(t, err)
		mf, err := Fractions(resulttest.Many(40).Document, s)
		require.NoError(t, err)
		empty, err := Pattern(resulttest.Empty(), s, PatternOptions{})
		require.NoError(t, err)
		files2, err := Render(map[string]*Figure{name + "-many": many, name + "-empty": empty, name + "-manyf": mf})
		require.NoError(t, err)
		for n, b := range files2 {
			files[n] = b
		}
		for n, b := range files {
			require.NoError(t, os.WriteFile(dir+"/"+n, b, 0o644))
		}
	}
}

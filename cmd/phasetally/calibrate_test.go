package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/xrdtest"
)

// siliconScan writes an invented scan of silicon with its lines 0.05° too high, and returns its name.
func siliconScan(t *testing.T) string {
	t.Helper()
	p := xrdtest.Pattern{Lo: 20, Hi: 120, Step: 0.02, Background: func(float64) float64 { return 100 }}
	// Angles of silicon for Cu Kα1 (derived apart for a = 5.4311946 Å), areas as its lines go.
	for at, area := range map[float64]float64{28.4409: 3000, 47.3003: 2000, 56.1193: 1200, 69.1261: 300, 76.3718: 450, 88.0247: 600, 94.9463: 330, 106.7009: 200, 114.0834: 500} {
		p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at + 0.05, Area: area, FWHM: xrdtest.Width(at), Eta: 0.4})
	}
	scan := p.Scan(t, 11)
	var b strings.Builder
	b.WriteString("# simulated\n# radiation: Cu\n")
	for i, at := range scan.TwoTheta {
		fmt.Fprintf(&b, "%.3f %.0f\n", at, scan.Intensity[i])
	}
	name := filepath.Join(t.TempDir(), "silicon.xy")
	require.NoError(t, os.WriteFile(name, []byte(b.String()), 0o644))
	return name
}

func TestCalibrateCommand(t *testing.T) {
	scan := siliconScan(t)
	folder := t.TempDir()
	file, figure := filepath.Join(folder, "instrument.toml"), filepath.Join(folder, "instrument.svg")
	code, out, errs := within(t, context.Background(), "calibrate", scan, "--standard", "640c", "--out", file, "--figure", figure)
	require.Equal(t, exitDone, code, errs)
	for _, want := range []string{"silicon (SRM 640c)", "1 1 1", "ρ = -0.9", "almost alike", "Widths: gauss_tan2"} {
		assert.Contains(t, out, want)
	}
	toml, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Contains(t, string(toml), `schema = "phasetally.instrument/1"`)
	svg, err := os.ReadFile(figure)
	require.NoError(t, err)
	assert.Contains(t, string(svg), "<svg")

	code, _, errs = within(t, context.Background(), "calibrate", scan, "--standard", "silicon", "--out", file)
	assert.Equal(t, exitBadInput, code)
	assert.Contains(t, errs, "--force")
	code, _, errs = within(t, context.Background(), "calibrate", scan, "--standard", "silicon", "--out", file, "--force", "--quiet")
	assert.Equal(t, exitDone, code, errs)

	// The instrument is used: peaks with its widths.
	code, out, errs = within(t, context.Background(), "peaks", scan, "--instrument", file)
	require.Equal(t, exitDone, code, errs)
	assert.Contains(t, out, "9 peaks")
	require.NoError(t, os.WriteFile(file, append(toml, "zer0 = 1\n"...), 0o644))
	code, _, errs = within(t, context.Background(), "peaks", scan, "--instrument", file)
	assert.Equal(t, exitBadInput, code)
	assert.Contains(t, errs, "zer0: unknown key")
}

func TestCalibrateRefuses(t *testing.T) {
	scan := siliconScan(t)
	for _, c := range []struct {
		code int
		says string
		args []string
	}{
		{exitBadInput, "unknown standard", []string{scan, "--standard", "quartz"}},
		{exitBadInput, "unknown standard", []string{scan}},
		{exitBadInput, "check the name", []string{scan, "--standard", "mine.cif"}},
		{exitBadInput, "LO:HI", []string{scan, "--standard", "silicon", "--range", "5"}},
		{exitBadInput, ".svg", []string{scan, "--standard", "silicon", "--figure", "a.gif"}},
		{exitBadInput, "--radiation", []string{scan, "--standard", "silicon", "--radiation", "Zz"}},
		{exitBadInput, "", []string{scan + "x", "--standard", "silicon"}},
		{exitNeedsHuman, "does not show the standard corundum", []string{scan, "--standard", "corundum"}},
	} {
		code, out, errs := within(t, context.Background(), append([]string{"calibrate"}, c.args...)...)
		assert.Equal(t, c.code, code, "%v: %s", c.args, errs)
		assert.Contains(t, errs, c.says)
		assert.Empty(t, out)
		assert.Equal(t, 1, strings.Count(errs, "\n"), errs)
	}
}

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

// examples lists the commands that do something with the lines of their examples.
func examples(c *cobra.Command) map[string][]string {
	all := map[string][]string{}
	if c.Runnable() && c.Name() != "library" && !strings.Contains(c.CommandPath(), "completion") && c.Name() != "help" {
		all[c.CommandPath()] = strings.FieldsFunc(c.Example, func(r rune) bool { return r == '\n' })
	}
	for _, sub := range c.Commands() {
		for path, lines := range examples(sub) {
			all[path] = lines
		}
	}
	return all
}

// The examples that --help prints run as they stand, in a folder that has the files they name.
func TestHelpExamplesRun(t *testing.T) {
	makeExampleFiles(t)
	all := examples(newRoot())
	require.Greater(t, len(all), 8)
	order := []string{"phasetally library build"} // others use what it builds
	for path := range all {
		order = append(order, path)
	}
	slices.Sort(order[1:])
	done := map[string]bool{}
	for _, path := range order {
		lines := all[path]
		assert.NotEmpty(t, lines, "%s has no example", path)
		for _, line := range lines {
			if done[line] {
				continue
			}
			done[line] = true
			runLine(t, path, line)
		}
	}
	assert.FileExists(t, "instrument.toml")
	assert.FileExists(t, "powder-phases/report.html")
}

// runLine runs one example; a > sends the output to a file, as in a shell.
func runLine(t *testing.T, path, line string) {
	t.Helper()
	command, file, redirected := strings.Cut(strings.TrimSpace(line), " > ")
	args := expand(t, strings.Fields(command))
	require.True(t, strings.HasPrefix(command, path), "%s: the example is of another command: %s", path, line)
	if (strings.Contains(command, " analyse ") || strings.Contains(command, " series ")) && !strings.Contains(command, "--share") {
		args = append(args, "--force") // more than one example writes the same folder
	}
	if path == "phasetally open" { // it runs until it is stopped
		code, stderr := serve(t, args[2:]...).stop()
		assert.Contains(t, []int{exitDone, exitInterrupted}, code, "%s\n%s", line, stderr)
		return
	}
	code, stdout, stderr := within(t, t.Context(), args[1:]...)
	assert.Equal(t, exitDone, code, "%s\n%s", line, stderr)
	if _, file, to := strings.Cut(command, "--out "); stdout == "" && assert.True(t, to, "%s says nothing and writes nothing", line) {
		_, err := os.Stat(strings.Fields(file)[0])
		assert.NoError(t, err, line)
	}
	if redirected {
		require.NoError(t, os.WriteFile(file, []byte(stdout), 0o644))
	}
}

// expand replaces patterns by the files they match, as a shell does.
func expand(t *testing.T, words []string) []string {
	t.Helper()
	var all []string
	for _, w := range words {
		files, err := filepath.Glob(w)
		require.NoError(t, err)
		if len(files) == 0 || !strings.ContainsAny(w, "*?[") {
			files = []string{w}
		}
		all = append(all, files...)
	}
	return all
}

const copperCIF = `data_copper
_chemical_name_mineral 'made copper'
_cell_length_a 3.615
_cell_length_b 3.615
_cell_length_c 3.615
_cell_angle_alpha 90
_cell_angle_beta 90
_cell_angle_gamma 90
_symmetry_space_group_name_H-M 'F m -3 m'
loop_
_atom_site_label
_atom_site_fract_x
_atom_site_fract_y
_atom_site_fract_z
Cu 0 0 0
`

// makeExampleFiles goes to a fresh folder and makes what the examples name: scans of two standards, from the lines of
// the starter collection, a structure and a list.
func makeExampleFiles(t *testing.T) {
	t.Helper()
	scan, err := os.ReadFile(demo(t))
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	write := func(name, text string) {
		require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
		require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	}
	write("testdata/bushing-aged.xy", string(scan))
	write("testdata/ageing.csv", "file,hours\nageing-1.xy,1\nageing-2.xy,2\n")
	for _, copied := range []string{"testdata/ageing-1.xy", "testdata/ageing-2.xy", "night/one.xy"} {
		write(copied, string(scan))
	}
	write("my-phase.cif", copperCIF)
	write("my-structures/copper-made.cif", copperCIF)
	write("structures/copper-made.cif", copperCIF)
	write("lists/one.csv", "phase,formula,d,intensity,rir\nmade brass,Cu3Zn,2.13,100,8\nmade brass,,1.84,45,\nmade brass,,1.30,22,\n")
	write("silicon.xy", mixture(t, "Cu", 20, 150, map[string]float64{"silicon": 400}))
	for section, epsilon := range map[string]float64{"longitudinal.xy": 200, "transverse.xy": 205} {
		write(section, mixture(t, "Cu", 30, 100, map[string]float64{"copper": 400, "cu3sn-epsilon": epsilon}))
	}
	write("corundum.xy", mixture(t, "Cu", 20, 90, map[string]float64{"corundum": 400}))
	write("powder.xy", mixture(t, "Cu", 20, 90, map[string]float64{"quartz": 300, "fluorite": 300}))
	for name, zincite := range map[string]float64{"mix-1.xy": 200, "mix-2.xy": 900} {
		write(name, mixture(t, "Cu", 20, 90, map[string]float64{"corundum": 200, "zincite": zincite}))
	}
	write("weighed.csv", "file,corundum,zincite\nmix-1.xy,50,50\nmix-2.xy,20,80\n")
	write("powder.csv", mixture(t, "Co", 25, 110, map[string]float64{"corundum": 300, "fluorite": 300}))
}

// mixture writes a scan of phases with given areas of their strongest lines, counts × degrees.
func mixture(t *testing.T, radiation string, lo, hi float64, strongest map[string]float64) string {
	t.Helper()
	r, err := xrd.ParseRadiation(radiation)
	require.NoError(t, err)
	p := xrdtest.Pattern{Lo: lo, Hi: hi, Step: 0.02, Radiation: r, Background: func(float64) float64 { return 100 }}
	for id, area := range strongest {
		code, stdout, stderr := within(t, t.Context(), "lines", id, "--radiation", radiation, "--format", "json")
		require.Equal(t, exitDone, code, stderr)
		var doc struct {
			Phases []struct {
				Lines []struct {
					TwoTheta  float64 `json:"two_theta"`
					Intensity float64 `json:"intensity"`
				} `json:"lines"`
			} `json:"phases"`
		}
		require.NoError(t, json.Unmarshal([]byte(stdout), &doc))
		for _, l := range doc.Phases[0].Lines {
			if l.TwoTheta < hi+1 && l.Intensity > 0.01 {
				p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: l.TwoTheta, Area: area * l.Intensity / 100, FWHM: xrdtest.Width(l.TwoTheta), Eta: 0.4})
			}
		}
	}
	scan := p.Scan(t, 7)
	var text strings.Builder
	for i, angle := range scan.TwoTheta {
		fmt.Fprintf(&text, "%.2f,%g\n", angle, scan.Intensity[i])
	}
	return text.String()
}

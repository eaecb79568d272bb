package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// walk compares a value with the template of the schema: a template's 0 stands for any leaf, null stands for anything,
// the first element of a list for all of its elements. It returns the keys that are missing and marks the places seen.
func walk(template, value any, path string, seen map[string]bool) []string {
	if value == nil {
		return nil
	}
	seen[path] = true
	var missing []string
	switch want := template.(type) {
	case map[string]any:
		got, ok := value.(map[string]any)
		if !ok {
			return []string{path + " is no object"}
		}
		for key, inner := range want {
			v, there := got[key]
			if !there {
				missing = append(missing, path+"."+key)
				continue
			}
			missing = append(missing, walk(inner, v, path+"."+key, seen)...)
		}
	case []any:
		got, ok := value.([]any)
		if !ok {
			return []string{path + " is no list"}
		}
		for _, v := range got {
			if len(want) > 0 {
				missing = append(missing, walk(want[0], v, path+"[]", seen)...)
			}
		}
	default:
		switch value.(type) {
		case map[string]any, []any:
			return []string{fmt.Sprintf("%s is a %T", path, value)}
		}
	}
	slices.Sort(missing)
	return slices.Compact(missing)
}

// places lists every object and list of the template.
func places(template any, path string) []string {
	var all []string
	switch t := template.(type) {
	case map[string]any:
		all = append(all, path)
		for key, inner := range t {
			all = append(all, places(inner, path+"."+key)...)
		}
	case []any:
		if len(t) > 0 {
			all = append(all, places(t[0], path+"[]")...)
		}
	}
	return all
}

func parse(t *testing.T, raw []byte) any {
	t.Helper()
	var v any
	require.NoError(t, json.Unmarshal(raw, &v))
	return v
}

// Every key of the schema phasetally.analysis/1 is there in what each command prints, and every object of the schema
// is seen filled at least once.
func TestJSONHasEveryKey(t *testing.T) {
	raw, err := os.ReadFile("testdata/analysis_keys.json")
	require.NoError(t, err)
	template := parse(t, raw)
	scan, seen := demo(t), map[string]bool{}
	young, err := filepath.Abs("../../testdata/ageing-000h.xy")
	require.NoError(t, err)
	textured, err := filepath.Abs("../../xrd/analysis/testdata/transverse.xy")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	text, err := os.ReadFile(scan)
	require.NoError(t, err)
	again := filepath.Join(t.TempDir(), "again.xy") // a second mounting, as far as its bytes go
	require.NoError(t, os.WriteFile(again, append([]byte("# mounted again\n"), text...), 0o644))
	table := filepath.Join(t.TempDir(), "factors.toml") // of another slit, for one of two phases
	require.NoError(t, os.WriteFile(table, []byte(`schema = "phasetally.factors/1"
reference = "copper"
repeatability_freedom = 3
radiation = "Cu"
slit = "fixed:0.1"
mixtures = ["a.xy"]
factor = [{id = "copper", rir = 8.9, value = 1, covariance = [0]}]`), 0o600))
	film := filepath.Join(t.TempDir(), "film.xy")
	require.NoError(t, os.WriteFile(film, []byte(filmOf(15.4)), 0o600))
	for _, args := range [][]string{
		{"peaks", scan},
		{"identify", film},
		{"quantify", textured, "--phase", "copper,cu3sn-epsilon", "--factors", table},
		{"identify", scan, "--elements", "Cu,Sn", "--exclude", "cuprite"}, // leaves peaks unexplained
		{"identify", young, "--elements", "Cu", "--strict-elements"},      // tin would explain most of the rest
		{"quantify", scan, "--phase", "bronze-alpha,cu6sn5-eta,cu3sn-epsilon,cuprite,corundum", "--spike", "cuprite=3"},
		{"quantify", textured, "--phase", "copper,cu3sn-epsilon"},
		{"quantify", textured, "--phase", "copper,cu3sn-epsilon", "--intercept", "8±2", "--intercept-cv2", "0.6±0.2", "--area", "copper=70±3"},
		{"quantify", scan, again, "--same-specimen", "--phase", "bronze-alpha,cu6sn5-eta"},
	} {
		code, stdout, stderr := within(t, t.Context(), append(args, "--format", "json")...)
		require.Contains(t, []int{exitDone, exitNeedsHuman}, code, stderr)
		value := parse(t, []byte(stdout))
		assert.Empty(t, walk(template, value, "", seen), args[0])
		assert.Equal(t, "phasetally.analysis/1", value.(map[string]any)["schema"])
	}
	for _, place := range places(template, "") {
		assert.True(t, seen[place], "no command filled %q", place)
	}
}

// filmOf is a scan of which all peaks are orders of one spacing, Å, as of a film.
func filmOf(spacing float64) string {
	var text strings.Builder
	for k := range 2800 {
		x := 4 + 0.02*float64(k)
		y := 50.0 + float64((k*7919)%13) // unlike for neighbours, as counts are
		for n := 1.0; n < 10; n++ {
			for line, wavelength := range []float64{1.540593, 1.544427} {
				at := 2 * 180 / math.Pi * math.Asin(n*wavelength/(2*spacing))
				y += 6000 / (1 + float64(line)) * math.Exp(-4*math.Ln2*(x-at)*(x-at)/(0.12*0.12))
			}
		}
		fmt.Fprintf(&text, "%.2f %.0f\n", x, y)
	}
	return text.String()
}

func TestMissingKeysAreSeen(t *testing.T) {
	template := parse(t, []byte(`{"a":0,"b":{"c":0},"d":[{"e":0}]}`))
	for _, c := range []struct {
		name, value string
		want        []string
	}{
		{"complete", `{"a":1,"b":{"c":2},"d":[{"e":3}],"more":4}`, nil},
		{"null stands for anything", `{"a":null,"b":null,"d":null}`, nil},
		{"a key", `{"b":{"c":2},"d":[]}`, []string{".a"}},
		{"a deep key", `{"a":1,"b":{},"d":[{"e":1},{}]}`, []string{".b.c", ".d[].e"}},
		{"another kind", `{"a":[1],"b":2,"d":{}}`, []string{".a is a []interface {}", ".b is no object", ".d is no list"}},
	} {
		assert.Equal(t, c.want, walk(template, parse(t, []byte(c.value)), "", map[string]bool{}), c.name)
	}
}

package main

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// FuzzFlagValues: what stands behind a flag is refused or means a number that can be: nothing panics, nothing is infinite.
func FuzzFlagValues(f *testing.F) {
	for _, s := range []string{"", "20:100", "Cu", "1.5406,1.5444", "fixed:1", "automatic:10", "graphite", "4±1:copper,2", "Cu=88,Sn=10±1", "corundum=20", "3:corundum", "0.9902±0.0056", "1e308:1e309", "nan=nan", "±", "=", ":", "-0"} {
		f.Add(s)
	}
	finite := func(t *testing.T, v ...float64) {
		for _, x := range v {
			require.False(t, math.IsNaN(x) || math.IsInf(x, 0))
		}
	}
	f.Fuzz(func(t *testing.T, s string) {
		if r, err := parseRange("--range", s); err == nil {
			require.Less(t, r[0], r[1])
		}
		if r, err := xrd.ParseRadiation(s); err == nil {
			require.True(t, r.KAlpha1 >= 0.1 && r.KAlpha1 <= 10, r)
		}
		if v, u, err := xrd.ParseUncertain(s); err == nil {
			finite(t, v, u)
		}
		if slit, err := xrd.ParseSlit(s); err == nil {
			finite(t, slit.Value)
			require.GreaterOrEqual(t, slit.Value, 0.0)
		}
		if list, err := parseComposition(s); err == nil {
			for _, a := range list {
				require.True(t, a.WeightPercent >= 0 && a.WeightPercent <= 100)
				finite(t, a.U)
			}
		}
		if list, err := parseGrains(strings.Split(s, ",")); err == nil {
			for _, g := range list {
				require.True(t, g.Diameter > 0 && g.Diameter <= 1000)
			}
		}
		if list, err := parseAreas([]string{s}); err == nil {
			for _, a := range list {
				require.True(t, a.Percent >= 0 && a.Percent <= 100 && a.U > 0)
			}
		}
		if k, err := parseSpike(s); err == nil {
			require.True(t, k.WeightPercent > 0 && k.WeightPercent < 100)
		}
		o := options{elements: strings.Split(s, ","), span: s, masks: []string{s}, spike: s, crystallinity: s, composition: s, grains: []string{s}, areas: []string{s}, intercepts: []string{s}, kFactor: s, slit: s, geometry: s, monochromator: s, section: s, sample: s}
		_ = o.fill(&analysis.Job{})
		cu, _ := xrd.ParseRadiation("Cu")
		_ = o.describeInstrument(&analysis.Job{Setting: analysis.Setting{Radiation: cu, Instrument: xrd.DefaultInstrument()}})
	})
}

// FuzzFigure: figures are drawn of any analysis.json and fit.csv, or it is said why not: the status is never that of a failure of ours.
func FuzzFigure(f *testing.F) {
	dir := f.TempDir()
	scan, err := filepath.Abs("../../testdata/bushing-aged.xy")
	require.NoError(f, err)
	code := run(f.Context(), []string{"quantify", scan, "--phase", "copper,cuprite", "--range", "40:46", "--quiet", "--out", filepath.Join(dir, "r")}, nil, &strings.Builder{}, &strings.Builder{})
	require.Contains(f, []int{exitDone, exitNeedsHuman}, code)
	doc, err := os.ReadFile(filepath.Join(dir, "r", "analysis.json"))
	require.NoError(f, err)
	fit, err := os.ReadFile(filepath.Join(dir, "r", "fit.csv"))
	require.NoError(f, err)
	for _, kind := range []string{"pattern", "fractions", "budget", "evidence"} {
		f.Add(doc, fit, kind)
		f.Add([]byte(strings.Replace(string(doc), `"two_theta_min": 40`, `"two_theta_min": 1e300`, 1)), fit, kind)
		f.Add(doc, []byte(strings.Replace(string(fit), "4", "-4", 9)), kind)
	}
	f.Fuzz(func(t *testing.T, doc, fit []byte, kind string) {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, "analysis.json"), doc, 0o600))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "fit.csv"), fit, 0o600))
		var out, errs strings.Builder
		code := run(t.Context(), []string{"figure", dir, "--kind", kind, "--phase", "copper", "--out", filepath.Join(dir, "f.svg")}, nil, &out, &errs)
		require.Contains(t, []int{exitDone, exitBadInput, exitNeedsHuman}, code, errs.String())
	})
}

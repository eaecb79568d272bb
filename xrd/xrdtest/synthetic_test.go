package xrdtest_test

import (
	"context"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

func TestSyntheticRepeats(t *testing.T) {
	long, short := slices.Collect(xrdtest.Synthetic(3, 60)), slices.Collect(xrdtest.Synthetic(3, 20))
	assert.Equal(t, long[:20], short, "a shorter collection is the start of a longer one")
	assert.NotEqual(t, short, slices.Collect(xrdtest.Synthetic(4, 20)), "the seed matters")
}

// The strong lines of an invented phase are those that its atoms give: spacings exactly, intensities as far as the
// simple scattering factors go.
func TestSyntheticLinesBelongToTheAtoms(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	agree, all := 0, 0
	for r := range xrdtest.Synthetic(5, 60) {
		s, err := structure.FromRecord(r)
		require.NoError(t, err, r.ID)
		p, err := s.Phase(refdata.Beam{Radiation: cu})
		require.NoError(t, err, r.ID)
		require.NotEmpty(t, r.Strong, r.ID)
		for _, strong := range r.Strong[:3] {
			all++
			best := 0.0
			for _, l := range p.Lines {
				if d := float64(strong.D)/l.D - 1; d*d < 1e-10 { // float32
					best = max(best, l.Intensity)
				}
			}
			require.Positive(t, best, "%s has no line at %g Å", r.ID, strong.D)
			if best > 0.5*float64(strong.Intensity) && best < 2*float64(strong.Intensity) {
				agree++
			}
		}
	}
	assert.Greater(t, float64(agree), 0.85*float64(all), "strong lines of the list are strong lines of the structure")
}

// TestWriteSyntheticLibrary writes a library of SYNTHETIC_SIZE (5000) invented phases to the file SYNTHETIC_LIBRARY, for
// the measurements of .ci/quality_identify.py and of the memory and time that large libraries take.
func TestWriteSyntheticLibrary(t *testing.T) {
	path := os.Getenv("SYNTHETIC_LIBRARY")
	if path == "" {
		t.Skip("SYNTHETIC_LIBRARY names no file to write")
	}
	n := 5000
	if s := os.Getenv("SYNTHETIC_SIZE"); s != "" {
		var err error
		n, err = strconv.Atoi(s)
		require.NoError(t, err)
	}
	require.NoError(t, library.Create(context.Background(), path, "invented phases", xrdtest.Synthetic(1, n)))
}

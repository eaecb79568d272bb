package identify

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

// TestFirstAnswerComesBeforeTheEnd: what explains the scan so far is told while fits are still to come, since a search that is given up then
// has no answer; more is explained as it goes on, and whoever listens changes nothing.
func TestFirstAnswerComesBeforeTheEnd(t *testing.T) {
	job := specimen{parts: []part{{"rutile", 170, 0}, {"zincite", 240, 0}, {"corundum", 48, 0}}, seed: 3}.job(t, library.Starter())
	alone := run(t, job)

	var told []result.Progress
	job.Progress = func(p result.Progress) {
		if len(p.Found) > 0 {
			told = append(told, p)
		}
	}
	heard := run(t, job)
	assert.Equal(t, alone.Fit.Scales, heard.Fit.Scales)
	assert.Equal(t, alone.Fit.Work, heard.Fit.Work)
	assert.Equal(t, alone.Coverage, heard.Coverage)
	assert.Equal(t, evidenceLevels(alone), evidenceLevels(heard))
	require.NotEmpty(t, told)
	first, last := told[0], told[len(told)-1]
	assert.Len(t, first.Found, 1, "the first phase is told when it is there, not when all are")
	assert.Positive(t, first.Peaks)
	assert.InDelta(t, 0.5, first.Share, 0.4)
	assert.Len(t, last.Found, 3)
	assert.Greater(t, last.Share, first.Share)

	ctx, stop := context.WithCancel(t.Context())
	job.Progress = func(p result.Progress) {
		if len(p.Found) > 0 {
			stop()
		}
	}
	_, err := Run(ctx, job)
	assert.ErrorIs(t, err, context.Canceled)
}

// TestOtherTubesAreNoAnswer: what is found while other tubes are asked for explains nothing of the scan as it was stated.
func TestOtherTubesAreNoAnswer(t *testing.T) {
	job := specimen{parts: []part{{"rutile", 170, 0}, {"zincite", 240, 0}, {"corundum", 48, 0}}, seed: 3, radiation: "Co"}.job(t, library.Starter())
	job.Setup.Radiation = radiation(t, "Cu")
	job.Beam.Radiation = job.Setup.Radiation
	asked := 0
	job.Progress = func(p result.Progress) {
		if strings.HasPrefix(p.Doing, "asking whether the tube was") {
			asked++
			assert.Less(t, p.Share, 0.5, "%v", p)
		}
	}
	out := run(t, job)
	require.NotNil(t, out.Radiation)
	assert.Equal(t, "Co", out.Radiation.Name)
	assert.Positive(t, asked)
	job.OtherTube = true
	asked = 0
	assert.Nil(t, run(t, job).Radiation)
	assert.Zero(t, asked)
}

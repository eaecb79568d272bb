package resultfile

import (
	"errors"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const aMark = "0123456789abcdef0123456789abcdef"

// However many shares decide at once, and whatever each has found, one decision holds for all; the run that gathers takes it
// over, and forgets those of other scans or settings.
func TestOneShareDecides(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "s")
	const shares = 16
	got := make([][]string, shares)
	var wg sync.WaitGroup
	for k := range shares {
		wg.Go(func() {
			f, err := OpenShare(dir, []string{"a.xy"}, k+1)
			if !assert.NoError(t, err) {
				return
			}
			defer f.Close()
			got[k], err = f.KeepPhases(aMark, []string{string(rune('a' + k))})
			assert.NoError(t, err)
		})
	}
	wg.Wait()
	for _, ids := range got {
		require.Len(t, ids, 1)
		assert.Equal(t, got[0], ids)
	}
	late, err := OpenShare(dir, []string{"a.xy"}, 3)
	require.NoError(t, err)
	ids, ok := late.EarlierPhases(aMark)
	assert.True(t, ok)
	assert.Equal(t, got[0], ids)
	_, ok = late.EarlierPhases("f" + aMark)
	assert.False(t, ok, "of other scans")
	other, err := late.KeepPhases("f"+aMark, []string{"z"})
	require.NoError(t, err)
	assert.Equal(t, []string{"z"}, other)
	_, err = OpenSeries(dir, nil, false)
	require.ErrorIs(t, err, ErrBusy, "a share is at work")
	require.NoError(t, late.Close())

	gather, err := OpenSeries(dir, nil, false)
	require.NoError(t, err)
	_, err = OpenShare(dir, nil, 1)
	require.ErrorIs(t, err, ErrBusy, "no share beside the run that gathers")
	ids, ok = gather.EarlierPhases(aMark)
	assert.True(t, ok)
	assert.Equal(t, got[0], ids)
	assert.FileExists(t, filepath.Join(dir, phasesFile))
	assert.NoFileExists(t, filepath.Join(dir, sharedDecision(aMark)))
	gather.forgetDecisions()
	left, err := filepath.Glob(filepath.Join(dir, sharedPhases))
	require.NoError(t, err)
	assert.Empty(t, left)
	require.NoError(t, gather.Close())
}

// noLinks is a disk on which a file has one name only, as some network disks are.
type noLinks struct{ osDisk }

func (noLinks) link(string, string) error { return errors.ErrUnsupported }

func TestDecisionWithoutSecondNames(t *testing.T) {
	f, err := openSeries(&SeriesFolder{dir: filepath.Join(t.TempDir(), "s"), share: 1, disk: noLinks{}})
	require.NoError(t, err)
	ids, err := f.KeepPhases(aMark, []string{"a"})
	require.NoError(t, err)
	assert.Equal(t, []string{"a"}, ids)
	ids, ok := f.EarlierPhases(aMark)
	assert.True(t, ok)
	assert.Equal(t, []string{"a"}, ids)
	require.NoError(t, os.WriteFile(filepath.Join(f.dir, sharedDecision(aMark)), []byte("{"), 0o600))
	_, ok = f.EarlierPhases(aMark)
	assert.False(t, ok, "a damaged decision is none")
	f.disk = osDisk{}
	ids, err = f.KeepPhases(aMark, []string{"b"})
	require.NoError(t, err, "and is replaced")
	assert.Equal(t, []string{"b"}, ids)
	require.NoError(t, f.Close())
}

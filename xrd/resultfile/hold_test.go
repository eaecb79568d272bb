package resultfile_test

import (
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/resultfile"
)

func TestHold(t *testing.T) {
	if runtime.GOOS != "linux" && runtime.GOOS != "darwin" {
		t.Skip("SKIPPED: this system may have no file locks")
	}
	name := filepath.Join(t.TempDir(), "in-use")
	release, err := resultfile.Hold(name)
	require.NoError(t, err)
	_, err = resultfile.Hold(name)
	assert.ErrorIs(t, err, resultfile.ErrHeld)
	release()
	release, err = resultfile.Hold(name)
	require.NoError(t, err, "it is free again")
	release()
	_, err = resultfile.Hold(filepath.Join(name, "below", "a", "file"))
	assert.Error(t, err)
}

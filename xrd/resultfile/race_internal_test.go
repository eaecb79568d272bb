package resultfile

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/resultfile/resulttest"
)

// overtaken is a disk on which another run writes its folder just before this one does.
type overtaken struct {
	osDisk
	other func() error
}

func (d overtaken) rename(from, to string) error {
	if err := d.other(); err != nil {
		return err
	}
	return d.osDisk.rename(from, to)
}

// Of two runs that write the same folder at once, the later one hears that it exists, or replaces it with force; nothing is mixed.
func TestTwoRunsWriteOneFolder(t *testing.T) {
	for _, force := range []bool{false, true} {
		dir := filepath.Join(t.TempDir(), "r")
		d := overtaken{other: func() error { return write(osDisk{}, dir, resulttest.Mixture(1), nil, Options{}) }}
		err := write(d, dir, resulttest.Mixture(2), nil, Options{Force: force})
		want := resulttest.Mixture(1)
		if force {
			require.NoError(t, err)
			want = resulttest.Mixture(2)
		} else {
			require.ErrorIs(t, err, ErrExists)
			assert.ErrorContains(t, err, "give --force to replace it")
		}
		got, err := os.ReadFile(filepath.Join(dir, "analysis.json"))
		require.NoError(t, err)
		expected, err := JSON(want.Document)
		require.NoError(t, err)
		assert.Equal(t, string(expected), string(got))
		left, err := os.ReadDir(filepath.Dir(dir))
		require.NoError(t, err)
		assert.Len(t, left, 1, "nothing half-written stays")
	}
}

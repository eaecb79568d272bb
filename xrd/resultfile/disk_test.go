package resultfile

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/resultfile/resulttest"
)

var errInjected = errors.New("injected")

// faultyDisk fails at step number at, counted from 0. With dead it does nothing from then on, cleaning up included, as
// if the power had gone; otherwise only that step fails. A write that fails leaves half of its bytes.
type faultyDisk struct {
	osDisk
	at, step *int
	dead     bool
}

func (d faultyDisk) fails() bool {
	*d.step++
	return *d.step-1 == *d.at || d.dead && *d.step-1 > *d.at
}

func (d faultyDisk) do(step func() error) error {
	if d.fails() {
		return errInjected
	}
	return step()
}

func (d faultyDisk) mkdirAll(dir string) error {
	return d.do(func() error { return d.osDisk.mkdirAll(dir) })
}
func (d faultyDisk) mkdirTemp(parent, pattern string) (dir string, err error) {
	err = d.do(func() error { dir, err = d.osDisk.mkdirTemp(parent, pattern); return err })
	return dir, err
}
func (d faultyDisk) write(name string, content FileWriter) error {
	if d.fails() {
		var b bytes.Buffer
		_ = content(&b)
		_ = d.osDisk.write(name, Bytes(b.Bytes()[:b.Len()/2]))
		return errInjected
	}
	return d.osDisk.write(name, content)
}
func (d faultyDisk) syncDir(dir string) error {
	return d.do(func() error { return d.osDisk.syncDir(dir) })
}
func (d faultyDisk) rename(a, b string) error {
	return d.do(func() error { return d.osDisk.rename(a, b) })
}
func (d faultyDisk) link(a, b string) error {
	return d.do(func() error { return osDisk{}.link(a, b) })
}
func (d faultyDisk) exchange(a, b string) error {
	return d.do(func() error { return d.osDisk.exchange(a, b) })
}
func (d faultyDisk) removeAll(dir string) {
	if !d.fails() {
		d.osDisk.removeAll(dir)
	}
}

// Whatever step fails, and whether the program lives on or dies there, the final name holds nothing, the old result
// whole, or the new result whole.
func TestNoStepLeavesHalfAResult(t *testing.T) {
	old, fresh := resulttest.Mixture(1), resulttest.Mixture(2)
	for _, replacing := range []bool{false, true} {
		for _, dead := range []bool{false, true} {
			reached := 0
			for at := 0; ; at++ {
				dir := filepath.Join(t.TempDir(), "out")
				if replacing {
					require.NoError(t, Write(dir, old, nil, Options{}))
				}
				step := 0
				err := write(faultyDisk{at: &at, step: &step, dead: dead}, dir, fresh, nil, Options{Force: true})
				if step <= at {
					require.NoError(t, err)
					break
				}
				reached++
				checkWhole(t, dir, replacing, fmt.Sprintf("replacing %t, dead %t, step %d", replacing, dead, at))
				left, globErr := filepath.Glob(filepath.Join(filepath.Dir(dir), ".out-*"))
				require.NoError(t, globErr)
				if !dead && at < step-1 { // the clean-up itself was not the step that failed
					assert.Empty(t, left)
				}
			}
			assert.Equal(t, 12, reached, "mkdirAll, mkdirTemp, six files, sync, swap, sync, removeAll")
		}
	}
}

func checkWhole(t *testing.T, dir string, replacing bool, label string) {
	t.Helper()
	if _, err := os.Stat(dir); err != nil {
		require.False(t, replacing, "%s: the earlier result is gone", label)
		return
	}
	got, err := Read(dir)
	require.NoError(t, err, label)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 6, label)
	first := got.Curves.Observed[0]
	assert.Contains(t, []float64{resulttest.Mixture(1).Curves.Observed[0], resulttest.Mixture(2).Curves.Observed[0]}, first, label)
}

func TestTwoRenamesExchange(t *testing.T) {
	parent := t.TempDir()
	a, b := filepath.Join(parent, "a"), filepath.Join(parent, "b")
	for _, dir := range []string{a, b} {
		require.NoError(t, os.Mkdir(dir, 0o700))
		require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.Base(dir)), nil, 0o600))
	}
	require.NoError(t, twoRenames(a, b))
	assert.FileExists(t, filepath.Join(b, "a"))
	assert.FileExists(t, filepath.Join(a, "b"))
	require.Error(t, twoRenames(filepath.Join(parent, "absent"), b))
	assert.FileExists(t, filepath.Join(b, "a"), "put back")
}

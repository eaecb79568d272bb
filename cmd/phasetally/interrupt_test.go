//go:build unix

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mostWait is how long a user who interrupts waits at most.
const mostWait = 200 * time.Millisecond

// tries is how often an interrupt may come too late, because the machine is busy with something else.
const tries = 10

// One interrupt ends every command soon, whatever it is busy with: waiting for a pipe, reading a million lines or a large table, fitting,
// or computing reference data. Nothing half-done stays.
func TestEveryCommandHearsOneInterrupt(t *testing.T) {
	t.Chdir(t.TempDir())
	program := programFile(t)
	require.NoError(t, syscall.Mkfifo("pipe.xy", 0o600))
	require.NoError(t, syscall.Mkfifo("pipe.toml", 0o600))
	var million bytes.Buffer
	for i := range 1_000_000 {
		fmt.Fprintf(&million, "%.5f %d\n", 5+float64(i)*1e-4, 100+(i*7919)%23)
	}
	require.NoError(t, os.WriteFile("million.xy", million.Bytes(), 0o600))
	require.NoError(t, os.WriteFile("large.cif", []byte("data_x\nloop_\n_a\n_b\n"+strings.Repeat("1 2\n", 1_500_000)), 0o600))
	for _, command := range []string{
		"analyse pipe.xy", "quantify pipe.xy --phase copper", "calibrate pipe.xy --standard silicon", "analyse million.xy --instrument pipe.toml",
		"identify million.xy", "analyse million.xy --phase copper", "peaks million.xy", "series million.xy --conditions pipe.toml", "series pipe.xy", "lines large.cif", "library list --library large.cif", "library build x.phases large.cif",
	} {
		for _, after := range []time.Duration{30 * time.Millisecond, 400 * time.Millisecond} {
			best := time.Hour
			for try := 0; try < tries && best > mostWait; try++ {
				best = min(best, interrupted(t, program, command, after))
			}
			assert.Less(t, best, mostWait, "%s after %s", command, after)
		}
	}
	left, err := filepath.Glob("*-phases")
	require.NoError(t, err)
	assert.Empty(t, left)
}

// interrupted starts a command, interrupts it after a while, and returns how long it took to end.
func interrupted(t *testing.T, program, command string, after time.Duration) time.Duration {
	t.Helper()
	c := exec.Command(program, strings.Fields(command)...)
	var said bytes.Buffer
	c.Stderr = &said
	require.NoError(t, c.Start())
	time.Sleep(after)
	began := time.Now()
	require.NoError(t, c.Process.Signal(os.Interrupt))
	err := c.Wait()
	took := time.Since(began)
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.ExitCode() == exitInterrupted {
		assert.Equal(t, "phasetally: interrupted; finished work is kept\n", said.String(), command)
	}
	return took
}

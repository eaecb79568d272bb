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

// mostWait is how long a user who interrupts waits at most; a busy machine is given more.
const mostWait = 200*time.Millisecond + slack

// slack is for a machine that runs other tests, too.
const slack = 800 * time.Millisecond

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
		"identify million.xy", "analyse million.xy --phase copper", "peaks million.xy", "lines large.cif", "library list --library large.cif", "library build x.phases large.cif",
	} {
		for _, after := range []time.Duration{30 * time.Millisecond, 400 * time.Millisecond} {
			c := exec.Command(program, strings.Fields(command)...)
			var said bytes.Buffer
			c.Stderr = &said
			require.NoError(t, c.Start())
			time.Sleep(after)
			began := time.Now()
			require.NoError(t, c.Process.Signal(os.Interrupt))
			err := c.Wait()
			assert.Less(t, time.Since(began), mostWait, "%s after %s", command, after)
			var exit *exec.ExitError
			if errors.As(err, &exit) && exit.ExitCode() == exitInterrupted {
				assert.Equal(t, "phasetally: interrupted; finished work is kept\n", said.String(), command)
			}
		}
	}
	left, err := filepath.Glob("*-phases")
	require.NoError(t, err)
	assert.Empty(t, left)
}

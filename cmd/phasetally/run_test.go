package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// demo is the scan of the demo scenario, wherever the test runs.
func demo(t *testing.T) string {
	t.Helper()
	path, err := filepath.Abs("../../testdata/bushing-aged.xy")
	require.NoError(t, err)
	return path
}

// within runs the program inside a fresh folder and returns its status and what it said.
func within(t *testing.T, ctx context.Context, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = run(ctx, args, strings.NewReader(""), &out, &errs)
	return code, out.String(), errs.String()
}

// brokenPipe panics when written to, as a fault of ours might.
type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { panic("a fault of ours") }

func TestPanicIsRecovered(t *testing.T) {
	var errs bytes.Buffer
	code := run(t.Context(), []string{"--version"}, nil, brokenPipe{}, &errs)
	assert.Equal(t, exitFailed, code)
	assert.Equal(t, "phasetally: unexpected failure: a fault of ours\n", errs.String())
}

// An interrupt ends the work with status 130 and leaves no half-written folder, whenever it comes.
func TestInterrupt(t *testing.T) {
	scan := demo(t)
	for _, after := range []time.Duration{0, 20 * time.Millisecond, 60 * time.Millisecond} {
		t.Chdir(t.TempDir())
		ctx, cancel := context.WithTimeout(t.Context(), after)
		code, stdout, stderr := within(t, ctx, "analyse", scan)
		cancel()
		assert.Equal(t, exitInterrupted, code, after)
		assert.Empty(t, stdout, after)
		assert.Equal(t, "phasetally: interrupted; finished work is kept\n", stderr)
		left, err := os.ReadDir(".")
		require.NoError(t, err)
		assert.Empty(t, left, after)
	}
}

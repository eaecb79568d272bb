package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every command has a manual page that says what its --help says, and the same program writes the same bytes.
func TestManualPages(t *testing.T) {
	dirs := []string{t.TempDir(), t.TempDir()}
	for _, dir := range dirs {
		code, _, errs := within(t, context.Background(), "man", dir)
		require.Equal(t, exitDone, code, errs)
	}
	for _, c := range newRoot().Commands() {
		if c.Hidden || c.Name() == "help" || c.Name() == "completion" {
			continue
		}
		page, err := os.ReadFile(filepath.Join(dirs[0], "phasetally-"+c.Name()+".1"))
		require.NoError(t, err)
		assert.Contains(t, string(page), "SYNOPSIS")
		assert.True(t, strings.Contains(string(page), c.Short) || strings.Contains(string(page), strings.Split(c.Long, "\n")[0]), c.Name())
		again, err := os.ReadFile(filepath.Join(dirs[1], "phasetally-"+c.Name()+".1"))
		require.NoError(t, err)
		assert.Equal(t, string(page), string(again))
	}
	code, _, errs := within(t, context.Background(), "man", filepath.Join(dirs[0], "phasetally.1"))
	assert.Equal(t, exitBadInput, code)
	assert.Contains(t, errs, "give another folder")
}

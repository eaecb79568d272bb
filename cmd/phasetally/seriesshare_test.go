//go:build unix

package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// startShare starts one share of the series of start.
func startShare(t *testing.T, program, share string) (*exec.Cmd, *bytes.Buffer) {
	t.Helper()
	args := []string{"series", "--elements", "Cu,Sn", "--range", "28:51", "--conditions", "ageing.csv", "--out", "s", "--quiet"}
	if share != "" {
		args = append(args, "--share", share)
	}
	c := exec.Command(program, append(args, killed...)...)
	var errs bytes.Buffer
	c.Stderr = &errs
	require.NoError(t, c.Start())
	return c, &errs
}

// Shares that run at once, one of them killed at a random moment and started again, gathered afterwards: the folder holds
// the same bytes as that of one run, and nothing else.
func TestSharesGiveWhatOneRunGives(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT TESTED: shares of a series, because of -short")
	}
	seriesScans(t, killed...)
	program := programFile(t)
	began := time.Now()
	c, errs := startShare(t, program, "")
	require.NoError(t, c.Wait(), errs.String())
	whole := time.Since(began)
	want := content(t, "s")
	require.NoError(t, os.Rename("s", "undisturbed"))

	random := rand.New(rand.NewPCG(3, 16))
	for _, victim := range []int{1, 3} { // the one that decides, and one that waits
		var shares []*exec.Cmd
		var said []*bytes.Buffer
		for k := range 3 {
			c, errs := startShare(t, program, fmt.Sprintf("%d/3", k+1))
			shares, said = append(shares, c), append(said, errs)
		}
		time.Sleep(time.Duration(random.Int64N(int64(whole))))
		_ = shares[victim-1].Process.Kill()
		_ = shares[victim-1].Wait()
		requireWhole(t, "s")
		shares[victim-1], said[victim-1] = startShare(t, program, fmt.Sprintf("%d/3", victim))
		for k, c := range shares {
			require.NoError(t, c.Wait(), said[k].String())
		}
		requireWhole(t, "s")
		assert.NoFileExists(t, "s/series.csv", "a share writes nothing of the whole")
		assert.Len(t, glob(t, "s/scans/[^.]*"), len(killed), "every scan is done by some share")
		before := modified(t, "s/scans/ageing-168h/analysis.json")
		c, errs := startShare(t, program, "")
		require.NoError(t, c.Wait(), errs.String())
		assert.Equal(t, before, modified(t, "s/scans/ageing-168h/analysis.json"), "what a share has done is not done again")
		requireSame(t, want, content(t, "s"))
		assert.Empty(t, glob(t, ".s-*"))
		require.NoError(t, os.RemoveAll("s"))
	}
}

// A run that gathers waits for nobody, and is kept out while a share works.
func TestGatheringBesideAShareIsRefused(t *testing.T) {
	seriesScans(t, "ageing-000h.xy", "ageing-672h.xy")
	args := quick("ageing-000h.xy", "ageing-672h.xy", "--out", "s")
	status, out, errs := program(t.Context(), append(args, "--share", "2/2")...)
	require.Equal(t, exitDone, status, errs)
	assert.Empty(t, out, "a share has no answer of its own")
	assert.Contains(t, errs, "Share 2/2: 1 of its 1 scans have an answer in s; the same command without --share gathers all")
	assert.NoDirExists(t, "s/scans/ageing-000h")
	assert.FileExists(t, "s/scans/ageing-672h/analysis.json")
	raw, err := os.ReadFile("s/scans/ageing-672h/analysis.json")
	require.NoError(t, err)
	assert.False(t, bytes.Contains(raw, []byte(`"share"`)) || bytes.Contains(raw, []byte("--share")), "a result does not say which share it was in")

	status, _, errs = program(t.Context(), append(args, "--share", "9/9")...)
	require.Equal(t, exitDone, status, "more shares than scans: nothing to do: %s", errs)
	status, _, errs = program(t.Context(), args...)
	require.Equal(t, exitDone, status, "gathering does what is missing: %s", errs)
	assert.FileExists(t, "s/series.csv")
	for _, c := range []struct{ share, more, stderr string }{
		{"0/2", "", "give K/N"}, {"3/2", "", "give K/N"}, {"1", "", "give K/N"}, {"a/b", "", "give K/N"}, {"1/2/3", "", "give K/N"},
		{"-1/2", "", "give K/N"}, {"1/1e9", "", "give K/N"}, {"1/2", "--force", "--share with --force"},
	} {
		status, _, errs := program(t.Context(), append(args, strings.Fields("--share="+c.share+" "+c.more)...)...)
		assert.Equal(t, exitBadInput, status, c.share)
		assert.Contains(t, errs, c.stderr, c.share)
	}
}

// Two shares that make the folder at the same time both work in it.
func TestSharesMakeTheFolderTogether(t *testing.T) {
	seriesScans(t, "ageing-000h.xy", "ageing-672h.xy")
	program := programFile(t)
	for range 3 {
		var all []*exec.Cmd
		var said []*bytes.Buffer
		for k := range 2 {
			c := exec.Command(program, quick("ageing-000h.xy", "ageing-672h.xy", "--out", "s", "--share", fmt.Sprintf("%d/2", k+1))...)
			var errs bytes.Buffer
			c.Stderr = &errs
			require.NoError(t, c.Start())
			all, said = append(all, c), append(said, &errs)
		}
		for k, c := range all {
			require.NoError(t, c.Wait(), said[k].String())
		}
		hidden := 0
		require.NoError(t, filepath.WalkDir("s", func(name string, _ fs.DirEntry, err error) error {
			if strings.Contains(name, "-partial-") {
				hidden++
			}
			return err
		}))
		assert.Zero(t, hidden)
		assert.Len(t, glob(t, "s/scans/*"), 2)
		require.NoError(t, os.RemoveAll("s"))
	}
}

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/series"
)

// mostShares bounds the number of shares, far beyond any array of a batch system.
const mostShares = 100000

// parseShare understands --share K/N.
func (o *seriesOptions) parseShare() error {
	if o.shareText == "" {
		return nil
	}
	a, b, _ := strings.Cut(o.shareText, "/")
	k, err1 := strconv.Atoi(strings.TrimSpace(a))
	n, err2 := strconv.Atoi(strings.TrimSpace(b))
	switch {
	case errors.Join(err1, err2) != nil || k < 1 || k > n || n > mostShares:
		return fmt.Errorf("--share %q: give K/N, the K-th of N shares, as in --share 3/40", o.shareText)
	case o.force:
		return errors.New("--share with --force: a share that is started again would undo what it has done; remove the folder, or give another with --out")
	}
	o.share = series.Share{K: k, Of: n}
	return nil
}

// openFolder opens the folder for this run alone, or for a share beside others.
func (o *seriesOptions) openFolder(files []string) (*resultfile.SeriesFolder, error) {
	if o.share.Of > 0 {
		return resultfile.OpenShare(o.out, files, o.share.K)
	}
	return resultfile.OpenSeries(o.out, files, o.force)
}

// How often a share looks for the decision of the first one, and how long it waits before it searches by itself.
const (
	lookEvery = 500 * time.Millisecond
	waitMost  = 10 * time.Minute
)

// decided returns what gives the phases that were decided before. Shares but the first wait for the decision.
func (o *seriesOptions) decided(ctx context.Context, folder *resultfile.SeriesFolder, stderr io.Writer) func(string) ([]string, bool) {
	if o.share.K < 2 {
		return folder.EarlierPhases
	}
	return func(fingerprint string) ([]string, bool) {
		until := time.Now().Add(waitMost)
		for told := false; ; told = true {
			ids, ok := folder.EarlierPhases(fingerprint)
			if ok || ctx.Err() != nil || fingerprint == "" || time.Now().After(until) {
				return ids, ok
			}
			if !told && !o.quiet {
				fmt.Fprintf(stderr, "phasetally: share %s waits for the phases that share 1 finds\n", o.shareText)
			}
			select {
			case <-ctx.Done():
			case <-time.After(lookEvery):
			}
		}
	}
}

// tellShare says what a share has done; the answer is given by the run that gathers.
func (o *seriesOptions) tellShare(s result.Series, stderr io.Writer) {
	done := 0
	for _, e := range s.Scans {
		switch {
		case e.Stopped:
		case e.Error != "":
			fmt.Fprintf(stderr, "phasetally: %s: no answer: %s\n", e.File, e.Error)
		default:
			done++
		}
	}
	if !o.quiet {
		fmt.Fprintf(stderr, "Share %s: %d of its %d scans have an answer in %s; the same command without --share gathers all\n", o.shareText, done, len(s.Scans), o.out)
	}
}

// commandLine is the command for the provenance. The share is left out: it says where a scan was analysed, not how.
func commandLine() string {
	args := slices.Clone(os.Args[1:])
	for i := 0; i < len(args); i++ {
		switch {
		case args[i] == "--share":
			args = slices.Delete(args, i, min(i+2, len(args)))
			i--
		case strings.HasPrefix(args[i], "--share="):
			args = slices.Delete(args, i, i+1)
			i--
		}
	}
	return strings.Join(append([]string{"phasetally"}, args...), " ")
}

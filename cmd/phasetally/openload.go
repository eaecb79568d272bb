package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
)

// A loader reads what a command line names as the command itself does, for the page. Reference data are read once and kept.
type loader struct {
	mu          sync.Mutex
	collections map[string]*library.Library
}

// load turns the arguments of analyse into its job.
func (l *loader) load(ctx context.Context, args []string) (analysis.Job, error) {
	var o options
	c := &cobra.Command{Use: "analyse"}
	o.analyseFlags(c)
	if err := c.ParseFlags(args[1:]); err != nil {
		return analysis.Job{}, flagTrouble(c, err)
	}
	if err := useSettings(c, newRoot()); err != nil {
		return analysis.Job{}, err
	}
	if len(c.Flags().Args()) != 1 {
		return analysis.Job{}, errors.New("name one scan")
	}
	scan := c.Flags().Arg(0)
	o.out = folderFor(scan)
	job, err := o.newJob(scan)
	if err != nil {
		return job, err
	}
	job.Provenance.Settings, job.Provenance.Given = settingsOf(c)
	lib, err := l.collection(ctx, &o)
	if err != nil {
		return job, err
	}
	return job, o.useCollection(lib, &job)
}

// collection returns the reference data of some flags, which are read at the first request.
func (l *loader) collection(ctx context.Context, o *options) (*library.Library, error) {
	key := fmt.Sprintf("%t\x00%s\x00%s", o.noStarter, strings.Join(o.libraries, "\x00"), strings.Join(o.solutions, "\x00"))
	l.mu.Lock()
	defer l.mu.Unlock()
	if lib, known := l.collections[key]; known {
		return lib, nil
	}
	lib, err := o.openCollection(ctx, io.Discard) // what is skipped was told when the file was dropped
	if err != nil {
		return nil, err
	}
	if l.collections == nil {
		l.collections = map[string]*library.Library{}
	}
	l.collections[key] = lib
	return lib, nil
}

// close closes all reference data.
func (l *loader) close() (err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, lib := range l.collections {
		err = errors.Join(err, lib.Close())
	}
	l.collections = nil
	return err
}

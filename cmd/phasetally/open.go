package main

import (
	"errors"
	"fmt"
	"net"
	"slices"
	"strconv"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phasetally/plots/page"
	"phasetally/xrd/session"
)

// openOptions are what a page takes beside the flags of analyse.
type openOptions struct {
	options
	port                int
	keep                string
	noBrowser, readOnly bool
}

// notOfPages are flags of commands that print or write at once.
var notOfPages = []string{"out", "force", "format", "jobs", "csv-locale"}

func newOpen() *cobra.Command {
	var o openOptions
	c := &cobra.Command{
		Use:   "open [SCAN|FOLDER…]",
		Short: "Look at an analysis in the browser and try what would be if",
		Long: `Serve a page on this computer alone, and open it in the browser: the answer, the pattern, and every choice to be tried, undone and
reproduced by a command. Phases are switched off and on, a click on a peak asks what it could be, ranges are left out by dragging; each
choice is fitted anew and noted. Scans, structures and lists can be dropped on the page. Choices and dropped files are kept in a
folder, and are found there by the next start. It runs until it is interrupted (Ctrl+C).`,
		Example: `  phasetally open testdata/bushing-aged.xy --elements Cu,Sn
  phasetally open testdata/ --keep trials --no-browser`,
		Args: cobra.ArbitraryArgs,
	}
	o.analyseFlags(c)
	for _, name := range notOfPages {
		_ = c.Flags().MarkHidden(name)
	}
	f := c.Flags()
	f.IntVar(&o.port, "port", 0, "port of the page (default: any that is free)")
	f.StringVar(&o.keep, "keep", "phasetally-page", "folder in which choices and dropped files are kept")
	f.BoolVar(&o.noBrowser, "no-browser", false, "print the address only")
	f.BoolVar(&o.readOnly, "read-only", false, "nothing can be changed on the page, for a shared screen")
	c.RunE = func(c *cobra.Command, args []string) error { return o.open(c, args) }
	return c
}

// open serves the page until it is interrupted.
func (o *openOptions) open(c *cobra.Command, names []string) error {
	ctx, stderr := c.Context(), c.ErrOrStderr()
	for _, name := range notOfPages {
		if c.Flags().Changed(name) {
			return fmt.Errorf("--%s: the page writes when it is asked to, into SCAN-phases; leave the flag out", name)
		}
	}
	if slices.Contains(names, "-") {
		return errors.New("-: a page reads its scan anew after every choice, and the standard input is read once; give a file, or drop it on the page")
	}
	scans, err := scansIn(names, "")
	if err != nil {
		return err
	}
	var l loader
	defer l.close()
	given := givenTo(c)
	for _, scan := range scans[:min(1, len(scans))] { // flags that are wrong are told before anything opens
		if _, err := l.load(ctx, session.New(scan, given).Args()); err != nil {
			return err
		}
	}
	s, err := page.New(ctx, page.Options{Load: l.load, Recognise: recognise, Save: savePage, Keep: o.keep, Scans: scans, Given: given, ReadOnly: o.readOnly})
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(o.port)))
	if err != nil {
		s.Close()
		return fmt.Errorf("--port %d cannot be had: %w; leave the flag out, and a free one is taken", o.port, err)
	}
	address := s.Address(listener)
	if _, err := fmt.Fprintln(c.OutOrStdout(), address); err != nil {
		return failure{err}
	}
	if !o.noBrowser {
		if err := browse(address); err != nil {
			fmt.Fprintf(stderr, "phasetally: no browser could be started (%v); open the address above in one on this computer\n", err)
		}
	}
	if !o.quiet {
		fmt.Fprintln(stderr, "The page is open to this computer alone. Ctrl+C ends it; choices are kept in "+o.keep)
	}
	if err := s.Serve(listener); err != nil {
		return failure{err}
	}
	return nil
}

// givenTo lists the flags of a command that are settings of a page, as they were given.
func givenTo(c *cobra.Command) session.Settings {
	given := session.Settings{}
	c.Flags().Visit(func(f *pflag.Flag) {
		if _, known := session.FieldOf(f.Name); !known && !slices.Contains([]string{"phase", "aside"}, f.Name) {
			return
		}
		if list, ok := f.Value.(pflag.SliceValue); ok {
			given[f.Name] = list.GetSlice()
			return
		}
		given[f.Name] = []string{f.Value.String()}
	})
	return given
}

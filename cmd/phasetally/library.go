package main

import (
	"fmt"
	"io"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"phasetally/refdata/library"
	"phasetally/xrd/identify"
)

func newLibrary() *cobra.Command {
	c := &cobra.Command{Use: "library", Short: "Collections of reference phases", Args: knownCommand,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() }, SuggestionsMinimumDistance: 2}
	c.AddCommand(newLibraryBuild(), newLibraryList(), newLibraryShow(), newLibraryCheck())
	return c
}

func newLibraryBuild() *cobra.Command {
	return &cobra.Command{
		Use:   "build LIBRARY PATH...",
		Short: "One library file from CIFs and lists",
		Long: `Read CIFs and reference lists, or folders of them, into one library file. Bad files are reported and left out; a
build that was stopped goes on where it was; files that have not changed are not read again.`,
		Example: "  phasetally library build ours.phases structures/ lists/",
		Args:    atLeast(2, "library or path"),
		RunE: func(c *cobra.Command, args []string) error {
			bar := newProgress(c.ErrOrStderr(), "building")
			var r library.Report
			err := keep(c.Context(), func() (err error) { // what was read is kept for the next build
				r, err = library.Build(c.Context(), args[0], args[1:], func(p library.Progress) { bar.set(p.Done, p.Total) })
				return err
			})
			bar.finish()
			tellProblems(c.ErrOrStderr(), r.Problems)
			if err != nil {
				return noFile(err)
			}
			_, err = fmt.Fprintln(c.OutOrStdout(), r)
			return err
		},
	}
}

func newLibraryList() *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "list",
		Short: "The phases that would be used",
		Long: `List the phases that analyse would try with the same flags: those whose elements are allowed, O, H, C, N, Cl and S beside
--elements, and the materials of preparation. --strict-elements leaves out what is beside.`,
		Example: "  phasetally library list --library ours.phases --elements Cu,Sn",
		Args:    noNames,
	}
	o.searchFlags(c)
	o.textFormatFlag(c)
	settingsFlags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := textOrJSON(o.format); err != nil {
			return err
		}
		lib, err := o.loadCollection(c.Context(), nil, c.ErrOrStderr())
		if err != nil {
			return err
		}
		defer lib.Close()
		set, err := parseElements(o.elements)
		if err != nil {
			return err
		}
		filter := identify.Filter{Elements: set, Strict: o.strict, Require: o.require, Exclude: o.exclude}
		return listEntries(c.OutOrStdout(), lib, filter, o.format)
	}
	return c
}

// A listedPhase is a row of the list as JSON.
type listedPhase struct {
	ID          string `json:"id"`
	Name        string `json:"name"`
	Formula     string `json:"formula"`
	Preparation string `json:"preparation"` // "": it is no material of preparation
	Source      string `json:"source"`      // file that it comes from
}

func listEntries(out io.Writer, lib *library.Library, filter identify.Filter, format string) error {
	list := []listedPhase{}
	for i := range lib.Len() {
		if e := lib.Entry(i); filter.Allows(e) {
			list = append(list, listedPhase{e.ID, e.Name, e.Formula, e.Preparation, lib.Source(i).File})
		}
	}
	if format == "json" {
		return printJSON(out, struct {
			Schema string        `json:"schema"`
			Phases []listedPhase `json:"phases"`
		}{"phasetally.library-list/1", list})
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "id\tname\tformula\tsource")
	for _, p := range list {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", p.ID, p.Name, p.Formula, p.Source)
	}
	return w.Flush()
}

package main

import (
	"fmt"
	"io"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"phasetally/plots/report"
	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
)

func newLibrary() *cobra.Command {
	c := &cobra.Command{Use: "library", Short: "Collections of reference phases"}
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
		Args:    cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			bar := newProgress(c.ErrOrStderr(), "building")
			r, err := library.Build(c.Context(), args[0], args[1:], func(p library.Progress) { bar.set(p.Done, p.Total) })
			bar.finish()
			for _, p := range r.Problems {
				fmt.Fprintf(c.ErrOrStderr(), "phasetally: skipped: %s\n", p)
			}
			if err != nil {
				return err
			}
			_, err = fmt.Fprintln(c.OutOrStdout(), r)
			return err
		},
	}
}

func newLibraryList() *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:     "list",
		Short:   "The phases that would be used",
		Example: "  phasetally library list --library ours.phases --elements Cu,Sn",
		Args:    cobra.NoArgs,
	}
	o.searchFlags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		lib, err := o.loadCollection(c.Context(), nil, c.ErrOrStderr())
		if err != nil {
			return err
		}
		defer lib.Close()
		set, err := parseElements(o.elements)
		if err != nil {
			return err
		}
		return listEntries(c.OutOrStdout(), lib, set)
	}
	return c
}

func listEntries(out io.Writer, lib *library.Library, only refdata.ElementSet) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "id\tname\tformula\tsource")
	for i := range lib.Len() {
		e := lib.Entry(i)
		if only == (refdata.ElementSet{}) || e.Elements.Within(only) {
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", e.ID, e.Name, e.Formula, lib.Source(i).File)
		}
	}
	return w.Flush()
}

func newLibraryShow() *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:     "show ID",
		Short:   "All that is known of one phase",
		Example: "  phasetally library show cu6sn5-eta",
		Args:    cobra.ExactArgs(1),
	}
	o.collectionFlags(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		lib, err := o.loadCollection(c.Context(), nil, c.ErrOrStderr())
		if err != nil {
			return err
		}
		defer lib.Close()
		i, err := lib.Lookup(args[0])
		if err != nil {
			return err
		}
		cu, _ := xrd.ParseRadiation("Cu")
		p, err := lib.Phase(i, refdata.Beam{Radiation: cu})
		if err != nil {
			return failure{err}
		}
		fmt.Fprintf(c.OutOrStdout(), "id %s, source %s, confidence %s\n", p.ID, first(p.Source, "unknown"), first(p.Confidence, "not judged"))
		if p.Preparation != "" {
			fmt.Fprintf(c.OutOrStdout(), "may come from preparation: %s\n", p.Preparation)
		}
		return report.Lines(c.OutOrStdout(), p, 1)
	}
	return c
}

func newLibraryCheck() *cobra.Command {
	return &cobra.Command{
		Use:     "check LIBRARY",
		Short:   "Whether every phase of a library file can be computed",
		Example: "  phasetally library check ours.phases",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			lib, err := library.Open(args[0])
			if err != nil {
				return err
			}
			defer lib.Close()
			bar := newProgress(c.ErrOrStderr(), "checking")
			problems, err := lib.Check(c.Context(), func(p library.Progress) { bar.set(p.Done, p.Total) })
			bar.finish()
			if err != nil {
				return err
			}
			for _, p := range problems {
				fmt.Fprintln(c.OutOrStdout(), p)
			}
			fmt.Fprintf(c.OutOrStdout(), "%d phases, %d problems\n", lib.Len(), len(problems))
			if len(problems) > 0 {
				return needsHuman{"the library has problems"}
			}
			return nil
		},
	}
}

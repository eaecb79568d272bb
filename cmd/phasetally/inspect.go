package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"phasetally/plots/report"
	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
)

func newLibraryShow() *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:     "show ID",
		Short:   "All that is known of one phase",
		Example: "  phasetally library show cu6sn5-eta",
		Args:    one("id"),
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
		if p.SolidSolution {
			fmt.Fprintln(c.OutOrStdout(), "forms solid solutions: its cell may be changed by up to 3 %")
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
		Args:    one("library"),
		RunE: func(c *cobra.Command, args []string) error {
			lib, err := library.Open(args[0])
			if err != nil {
				return noFile(err)
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

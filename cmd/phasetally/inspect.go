package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"phasetally/plots/report"
	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/refdata/listfile"
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
	o.textFormatFlag(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := textOrJSON(o.format); err != nil {
			return err
		}
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
		beam := refdata.Beam{Radiation: cu}
		p, err := lib.Phase(i, beam)
		if err != nil {
			return failure{err}
		}
		if o.format == "json" {
			return listfile.WriteJSON(c.OutOrStdout(), beam, []refdata.Phase{p})
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
	var o options
	c := &cobra.Command{
		Use:     "check LIBRARY",
		Short:   "Whether every phase of a library file can be computed",
		Example: "  phasetally library check ours.phases",
		Args:    one("library"),
	}
	o.textFormatFlag(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := textOrJSON(o.format); err != nil {
			return err
		}
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
		if err := printProblems(c.OutOrStdout(), lib.Len(), problems, o.format); err != nil {
			return failure{err}
		}
		if len(problems) > 0 {
			return needsHuman{"the library has problems"}
		}
		return nil
	}
	return c
}

// A listedProblem is a problem of a library as JSON.
type listedProblem struct {
	File string `json:"file"`
	ID   string `json:"id"` // "": it is about the whole file
	Text string `json:"text"`
}

func printProblems(out io.Writer, phases int, problems []library.Problem, format string) error {
	if format == "json" {
		list := []listedProblem{}
		for _, p := range problems {
			list = append(list, listedProblem{p.File, p.ID, p.Err.Error()})
		}
		return printJSON(out, struct {
			Schema   string          `json:"schema"`
			Phases   int             `json:"phases"`
			Problems []listedProblem `json:"problems"`
		}{"phasetally.library-check/1", phases, list})
	}
	for _, p := range problems {
		fmt.Fprintln(out, p)
	}
	_, err := fmt.Fprintf(out, "%d phases, %d problems\n", phases, len(problems))
	return err
}

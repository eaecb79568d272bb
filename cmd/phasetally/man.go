package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// newMan writes the manual pages that packages install; people read --help.
func newMan() *cobra.Command {
	return &cobra.Command{
		Use:     "man FOLDER",
		Short:   "Write the manual pages of all commands into a folder",
		Example: "  phasetally man man1/",
		Hidden:  true,
		Args:    one("folder"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return fmt.Errorf("%w; give another folder", err)
			}
			root := c.Root()
			root.DisableAutoGenTag = true // the same bytes for the same program
			if err := doc.GenManTree(root, &doc.GenManHeader{Title: "PHASETALLY", Section: "1", Source: "phasetally " + version, Manual: "phasetally"}, args[0]); err != nil {
				return failure{err}
			}
			_, err := fmt.Fprintf(c.OutOrStdout(), "The manual pages are in %s\n", args[0])
			return err
		},
	}
}

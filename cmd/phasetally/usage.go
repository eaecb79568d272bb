package main

import (
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// These messages replace those of the command library, which say what is wrong but not what to do.

// oneScan asks for exactly one scan.
var oneScan = one("scan")

// one asks for exactly one name.
func one(what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) == 1 {
			return nil
		}
		return fmt.Errorf("%d names given where one %s is needed; '%s --help' shows an example", len(args), what, c.CommandPath())
	}
}

// atLeast asks for a number of names.
func atLeast(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) >= n {
			return nil
		}
		return fmt.Errorf("%s missing; '%s --help' shows an example", what, c.CommandPath())
	}
}

// noNames is for commands whose input are flags.
func noNames(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return fmt.Errorf("%q: this command takes flags only; '%s --help' shows an example", args[0], c.CommandPath())
}

// knownCommand refuses words that are no command, with the nearest that is.
func knownCommand(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	hint := fmt.Sprintf("'%s --help' lists the commands", c.CommandPath())
	if near := c.SuggestionsFor(args[0]); len(near) > 0 {
		hint = "did you mean " + strings.Join(near, " or ") + "?"
	} else if _, err := os.Stat(args[0]); err == nil && !c.HasParent() {
		hint = fmt.Sprintf("a command comes first, as in 'phasetally analyse %s'", args[0])
	}
	return fmt.Errorf("unknown command %q; %s", args[0], hint)
}

// settingsOf lists every flag of a command with its value, and those that were given, for the provenance.
func settingsOf(c *cobra.Command) (settings, given map[string]string) {
	settings, given = map[string]string{}, map[string]string{}
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Name != "help" && f.Name != "share" { // which scans are done here says nothing of how
			settings[f.Name] = f.Value.String()
			if f.Changed {
				given[f.Name] = f.Value.String()
			}
		}
	})
	return settings, given
}

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phasetally/xrd"
	"phasetally/xrd/resultfile"
)

func readSettings(c *cobra.Command, name string, known map[string]bool) error {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return noFile(err)
	case !info.Mode().IsRegular() || info.Size() > mostSettings:
		return fmt.Errorf("%s: is no file of settings; write one with --save-settings", name)
	}
	raw, err := os.ReadFile(name)
	if err != nil {
		return noFile(err)
	}
	var all map[string]any
	if err := toml.Unmarshal(bytes.TrimPrefix(raw, []byte("\ufeff")), &all); err != nil {
		var at toml.ParseError
		if errors.As(err, &at) {
			return fmt.Errorf("%s:%d: %s; correct the line", name, at.Position.Line, xrd.OneLine(at.Message))
		}
		return fmt.Errorf("%s: %w", name, err)
	}
	if all["schema"] != settingsSchema {
		return fmt.Errorf("%s: does not begin with schema = %q; write the file with --save-settings", name, settingsSchema)
	}
	delete(all, "schema")
	var wrong troubles
	for key, value := range all {
		switch f := c.Flags().Lookup(key); {
		case !known[key] || slices.Contains(ofOneRun, key):
			wrong.note(fmt.Errorf("%s: unknown key %q; keys are the flags of the commands without the dashes, but for those of a single run such as --out", name, key))
		case f == nil || f.Changed || !kept(c, key): // of another command, or on the command line
		default:
			wrong.note(setFlag(c.Flags(), f, value, name))
		}
	}
	return wrong.err()
}

// kept tells whether the settings of a command hold a flag.
func kept(c *cobra.Command, flag string) bool {
	return !slices.Contains(ofOneRun, flag) && !slices.Contains(strings.Fields(c.Annotations[runFlags]), flag)
}

// writeSettings keeps the flags that were given, and those of the file that was begun with.
func writeSettings(c *cobra.Command, name string) error {
	b := bytes.NewBufferString(string(settingsMark) + "\" # saved flags of phasetally, for --settings\n")
	var wrong troubles
	c.Flags().Visit(func(f *pflag.Flag) {
		if kept(c, f.Name) {
			wrong.note(toml.NewEncoder(b).Encode(map[string]any{f.Name: settingOf(f, filepath.Dir(name))}))
		}
	})
	if err := wrong.err(); err != nil {
		return failure{err}
	}
	return resultfile.WriteFile(name, b.Bytes())
}

// everyFlag are the names of the flags of all commands: one file serves several of them.
func everyFlag(c *cobra.Command) map[string]bool {
	all := map[string]bool{}
	c.LocalFlags().VisitAll(func(f *pflag.Flag) { all[f.Name] = true })
	for _, sub := range c.Commands() {
		for name := range everyFlag(sub) {
			all[name] = true
		}
	}
	return all
}

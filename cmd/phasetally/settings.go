package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"phasetally/xrd/resultfile"
)

// settingsSchema is the first value of a file of settings.
const settingsSchema = "phasetally.settings/1"

// settingsMark is what every file of settings has in it.
const settingsMark resultfile.FileMark = `schema = "` + settingsSchema

// mostSettings is more than any file of settings needs, bytes.
const mostSettings = 1 << 20

// ofOneRun are the flags that are not kept: they say what one run is about, not how a laboratory works.
var ofOneRun = []string{"help", "settings", "save-settings", "out", "force", "share", "sample", "conditions", "from", "figure", "explain", "seed"}

// ofThisRun marks flags that say in this command what one run is about, although another command keeps flags of the same name.
func ofThisRun(c *cobra.Command, names ...string) {
	c.Annotations = map[string]string{runFlags: strings.Join(names, " ")}
}

// runFlags is the annotation of a command that lists them.
const runFlags = "of one run"

// settingsFlags adds reading and writing of saved flags.
func settingsFlags(c *cobra.Command) {
	c.Flags().String("settings", "", "file of saved flags (.toml) to begin with; flags of the command line win")
	c.Flags().String("save-settings", "", "write the flags that are given into this file (.toml), for --settings")
}

// useSettings fills the flags that were not given from --settings, and refuses --save-settings where they cannot be written.
func useSettings(c *cobra.Command, root *cobra.Command) error {
	from, to := c.Flags().Lookup("settings"), c.Flags().Lookup("save-settings")
	if from == nil {
		return nil
	}
	if name := from.Value.String(); name != "" {
		if err := readSettings(c, name, everyFlag(root)); err != nil {
			return fmt.Errorf("--settings %w", err)
		}
	}
	if name := to.Value.String(); name != "" {
		force := c.Flags().Lookup("force")
		if err := resultfile.FreeFile(name, settingsMark, force != nil && force.Value.String() == "true"); err != nil {
			return fmt.Errorf("--save-settings %w", err)
		}
	}
	return nil
}

// saveSettings writes --save-settings once the command has done its work with them.
func saveSettings(c *cobra.Command, err error) error {
	var human needsHuman
	to := c.Flags().Lookup("save-settings")
	if to == nil || to.Value.String() == "" || err != nil && !errors.As(err, &human) {
		return err
	}
	if trouble := writeSettings(c, to.Value.String()); trouble != nil {
		return fmt.Errorf("--save-settings %w", trouble)
	}
	return err
}

package main

import (
	"encoding/json"
	"fmt"
	"io"

	"github.com/spf13/cobra"
)

// textFormatFlag adds the format of what is printed, where there is no CSV.
func (o *options) textFormatFlag(c *cobra.Command) {
	c.Flags().StringVar(&o.format, "format", "text", "what to print: text or json")
}

func textOrJSON(format string) error {
	if format != "text" && format != "json" {
		return fmt.Errorf("--format %q: give text or json", format)
	}
	return nil
}

// printJSON writes a value with indents, every letter as itself.
func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(v)
}

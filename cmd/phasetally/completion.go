package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"
)

// shells are those for which completions are written, in the order in which they are told.
var shells = []string{"bash", "zsh", "fish", "powershell"}

// newCompletion writes what a shell needs to complete commands, flags and file names.
func newCompletion() *cobra.Command {
	return &cobra.Command{
		Use:   "completion bash|zsh|fish|powershell",
		Short: "What a shell needs to complete commands and flags",
		Long: `Print a script that teaches a shell to complete the commands and flags of phasetally. Load it where your shell looks for
such scripts, for example with 'source <(phasetally completion bash)' in ~/.bashrc.`,
		Example:           "  phasetally completion bash > phasetally.bash",
		Args:              one("shell"),
		ValidArgsFunction: cobra.FixedCompletions(shells, cobra.ShellCompDirectiveNoFileComp),
		RunE: func(c *cobra.Command, args []string) error {
			root := c.Root()
			write := map[string]func(io.Writer) error{
				"bash":       func(w io.Writer) error { return root.GenBashCompletionV2(w, true) },
				"zsh":        root.GenZshCompletion,
				"fish":       func(w io.Writer) error { return root.GenFishCompletion(w, true) },
				"powershell": root.GenPowerShellCompletionWithDesc,
			}[args[0]]
			if write == nil {
				return fmt.Errorf("%q is no shell that is known; give bash, zsh, fish or powershell", args[0])
			}
			if err := write(c.OutOrStdout()); err != nil {
				return failure{err}
			}
			return nil
		},
	}
}

// Phasetally finds which crystalline phases an X-ray powder scan shows, how much of each, and how sure that is.
//
//	phasetally analyse scan.xy --radiation Cu --elements Cu,Sn
//
// prints one sentence, one table and the cautions, and writes figures, tables and a report into scan-phases/. Every
// command tells its flags with --help. Results go to the standard output, everything else to the standard error.
// Exit status: 0 done; 1 failed unexpectedly; 2 wrong usage or bad input; 3 done, but the answer needs a human;
// 130 interrupted.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

// The exit statuses.
const (
	exitDone        = 0
	exitFailed      = 1
	exitBadInput    = 2
	exitNeedsHuman  = 3
	exitInterrupted = 130
)

// version is set by the release build.
var version = "development"

func main() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(lazyGC)
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(plentyMemory)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // whoever asks twice does not want to wait for what is being finished
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// lazyGC lets the heap grow to seven times of what is in use before it is swept: a fit needs some megabytes only, and
// sweeping took a fifth of the time of a series.
const lazyGC = 600

// plentyMemory is where sweeping becomes thorough: ordinary work never gets there, and large scans and tables stay below half a gigabyte.
const plentyMemory = 400 << 20

// roomOfSeries is what a series of any length may use beside what was loaded before it, bytes.
const roomOfSeries = 200 << 20

// spareMemory makes the sweeping more eager as the memory of a long series grows: the entries of 20 000 scans stay in use, and
// letting the heap grow to seven times of that would take a gigabyte.
func spareMemory() {
	if os.Getenv("GOMEMLIMIT") == "" {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		debug.SetMemoryLimit(int64(m.Sys) + roomOfSeries)
	}
}

// failure is an error that is not the user's doing.
type failure struct{ error }

func (f failure) Unwrap() error { return f.error }

// needsHuman ends a command that did its work but whose answer must not be used unseen.
type needsHuman struct{ reason string }

func (n needsHuman) Error() string { return n.reason }

// run is the whole program: it returns the exit status.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	code, ended := await(ctx, func(ctx context.Context) int { return execute(ctx, args, stdin, stdout, stderr) })
	if !ended {
		code = exitInterrupted
	}
	if code == exitInterrupted {
		fmt.Fprintln(stderr, "phasetally: interrupted; finished work is kept")
	}
	return code
}

// execute runs a command and says what went wrong.
func execute(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) (code int) {
	defer func() {
		if p := recover(); p != nil {
			fmt.Fprintf(stderr, "phasetally: unexpected failure: %v\n", p)
			if os.Getenv("PHASETALLY_TRACE") != "" {
				fmt.Fprintf(stderr, "%s", debug.Stack())
			}
			code = exitFailed
		}
	}()
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	c, err := root.ExecuteContextC(withArgs(ctx, args))
	err = saveSettings(c, err)
	if err == nil {
		return exitDone
	}
	var human needsHuman
	var fail failure
	switch {
	case ctx.Err() != nil:
		return exitInterrupted
	case errors.As(err, &human):
		fmt.Fprintf(stderr, "phasetally: %v\n", human)
		return exitNeedsHuman
	case errors.Is(err, syscall.ENOSPC) && errors.As(err, &fail):
		fmt.Fprintf(stderr, "phasetally: %v; make room, or write to another disk\n", fail)
		return exitBadInput
	case errors.As(err, &fail):
		fmt.Fprintf(stderr, "phasetally: unexpected failure: %v\n", fail)
		return exitFailed
	}
	for line := range strings.Lines(strings.TrimSpace(err.Error())) {
		fmt.Fprintf(stderr, "phasetally: %s\n", strings.TrimSpace(line))
	}
	return exitBadInput
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "phasetally",
		Short: "Phases and fractions from X-ray powder scans",
		Long: `Phasetally tells which crystalline phases an X-ray powder scan shows, how much of each, and how sure that is.

X-ray sets are operated only by trained people under the local radiation rules. Results are not for clinical, legal or
exposure decisions without an accredited laboratory.`,
		Example:                    "  phasetally analyse testdata/bushing-aged.xy --elements Cu,Sn",
		Version:                    version,
		PersistentPreRunE:          func(c *cobra.Command, _ []string) error { return useSettings(c, c.Root()) },
		CompletionOptions:          cobra.CompletionOptions{DisableDefaultCmd: true},
		SilenceErrors:              true,
		SilenceUsage:               true,
		Args:                       knownCommand,
		SuggestionsMinimumDistance: 2,
		RunE:                       func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SetFlagErrorFunc(flagTrouble)
	root.AddCommand(newAnalyse(), newPeaks(), newIdentify(), newQuantify(), newLines(), newLibrary(), newCalibrate(), newFactors(), newSeries(), newFigure(), newMan(), newCompletion(), newSimulate(), newPlan(), newOpen())
	return root
}

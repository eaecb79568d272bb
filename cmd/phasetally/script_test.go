package main

import (
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The program is tested as a whole: scripts run it as its users do.
func TestMain(m *testing.M) { testscript.Main(m, map[string]func(){"phasetally": main}) }

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(env *testscript.Env) error {
			scan, err := os.ReadFile("../../testdata/bushing-aged.xy")
			if err != nil {
				return err
			}
			return os.WriteFile(filepath.Join(env.WorkDir, "good.xy"), scan, 0o644)
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status": status, "refused": refused, "spoil": spoil, "sparse": sparse, "rewrite": rewrite, "flaw": flaw,
		},
	})
}

// runProgram runs the program and returns its exit status.
func runProgram(ts *testscript.TestScript, args []string) int {
	var exit *exec.ExitError
	switch err := ts.Exec("phasetally", args...); {
	case err == nil:
		return 0
	case errors.As(err, &exit):
		return exit.ExitCode()
	default:
		ts.Check(err)
		return -1
	}
}

// status N ARGS… runs the program and wants exit status N.
func status(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	if got := runProgram(ts, args[1:]); got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

// refused PATTERN ARGS… runs the program and wants exit status 2, one line on the standard error that begins with the
// program's name and matches the pattern (several when it begins with (?s)), nothing on the standard output and no file made, changed or gone.
func refused(ts *testscript.TestScript, _ bool, args []string) {
	before := listing(ts)
	if got := runProgram(ts, args[1:]); got != exitBadInput {
		ts.Fatalf("exit status %d, want %d", got, exitBadInput)
	}
	said := ts.ReadFile("stderr")
	lines := strings.Count(said, "\n")
	if lines != 1 && !strings.HasPrefix(args[0], "(?s)") || lines == 0 || strings.Count("\n"+said, "\nphasetally: ") != lines {
		ts.Fatalf("want one line from phasetally, got %q", said)
	}
	if !regexp.MustCompile(args[0]).MatchString(said) {
		ts.Fatalf("%q does not match %q", said, args[0])
	}
	if out := ts.ReadFile("stdout"); out != "" {
		ts.Fatalf("bad input, and yet printed: %q", out)
	}
	if after := listing(ts); !slices.Equal(before, after) {
		ts.Fatalf("files changed: %q, before %q", after, before)
	}
}

// listing names every file of the work folder with its size and time.
func listing(ts *testscript.TestScript) []string {
	var all []string
	ts.Check(filepath.WalkDir(ts.MkAbs("."), func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() == ".tmp" {
			return fs.SkipDir
		}
		info, err := d.Info()
		if err == nil && !d.IsDir() {
			all = append(all, name+" "+strconv.FormatInt(info.Size(), 10)+" "+info.ModTime().String())
		} else {
			all = append(all, name)
		}
		return err
	}))
	return all
}

// spoil FROM TO OLD NEW copies a file with the first match of a pattern replaced; in NEW, \n is a line end.
func spoil(ts *testscript.TestScript, _ bool, args []string) {
	text := ts.ReadFile(args[0])
	at := regexp.MustCompile("(?m)" + args[2]).FindStringIndex(text)
	if at == nil {
		ts.Fatalf("%s has no %q", args[0], args[2])
	}
	changed := text[:at[0]] + strings.ReplaceAll(args[3], `\n`, "\n") + text[at[1]:]
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(changed), 0o644))
}

// sparse FILE BYTES makes a file of zero bytes that takes no room on the disk.
func sparse(ts *testscript.TestScript, _ bool, args []string) {
	size, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	f, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(errors.Join(f.Truncate(size), f.Close()))
}

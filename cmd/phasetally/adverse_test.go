//go:build linux

package main

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// launch runs the program in a folder, with more of an environment, and returns its status and what it said.
func launch(t *testing.T, program, dir string, env []string, args ...string) (status int, out, errs string) {
	t.Helper()
	c := exec.Command(program, args...)
	var o, e bytes.Buffer
	c.Dir, c.Env, c.Stdout, c.Stderr = dir, append(os.Environ(), env...), &o, &e
	var exit *exec.ExitError
	if err := c.Run(); err != nil && !errors.As(err, &exit) {
		require.NoError(t, err)
	}
	return c.ProcessState.ExitCode(), o.String(), e.String()
}

// invented writes small structures into a folder.
func invented(t *testing.T, dir string, n int) {
	require.NoError(t, os.MkdirAll(dir, 0o755))
	good, err := os.ReadFile("../../testdata/hostile/cif-good.cif")
	require.NoError(t, err)
	for i := range n {
		text := strings.ReplaceAll(string(good), "3.615", "3."+string(rune('1'+i%9))+string(rune('0'+i/9%10))+"5")
		require.NoError(t, os.WriteFile(filepath.Join(dir, "s"+string(rune('a'+i/26))+string(rune('a'+i%26))+".cif"), []byte(text), 0o600))
	}
}

// The same command gives the same bytes on one core and on two, clocks left out.
func TestSameBytesOnAnyNumberOfCores(t *testing.T) {
	program, scan := programFile(t), demo(t)
	base := t.TempDir()
	invented(t, filepath.Join(base, "cif"), 40)
	var first map[string]string
	for _, cores := range []string{"1", "2", "7"} {
		env := []string{"GOMAXPROCS=" + cores}
		dir := filepath.Join(base, cores)
		require.NoError(t, os.Mkdir(dir, 0o755))
		status, out, errs := launch(t, program, dir, env, "analyse", scan, "--elements", "Cu,Sn", "--out", "r")
		require.Zero(t, status, errs)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "text"), []byte(out), 0o600))
		status, _, errs = launch(t, program, dir, env, "library", "build", "l.phases", "../cif")
		require.Zero(t, status, errs)
		got := content(t, dir)
		if first == nil {
			first = got
			require.Greater(t, len(first), 10)
			continue
		}
		for name, text := range first {
			same := strings.Replace(name, string(filepath.Separator)+"1"+string(filepath.Separator), string(filepath.Separator)+cores+string(filepath.Separator), 1)
			if filepath.Base(name) == "1" {
				continue
			}
			assert.True(t, text == got[same], "%s is not the same on %s cores", name, cores)
		}
	}
}

// An analysis and a build are killed at random moments. What has its final name is whole, and the run that is let through gives what an
// undisturbed one gives.
func TestKilledAtRandom(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT TESTED: killing at random moments, because of -short")
	}
	program, scan := programFile(t), demo(t)
	base := t.TempDir()
	invented(t, filepath.Join(base, "cif"), 200)
	random := rand.New(rand.NewPCG(3, 3))
	for _, job := range [][]string{{"analyse", scan, "--elements", "Cu,Sn", "--out", "r"}, {"library", "build", "l.phases", "../cif"}} {
		calm, wild := filepath.Join(base, job[0]+"-calm"), filepath.Join(base, job[0]+"-wild")
		require.NoError(t, errors.Join(os.Mkdir(calm, 0o755), os.Mkdir(wild, 0o755)))
		began := time.Now()
		status, _, errs := launch(t, program, calm, nil, job...)
		require.Zero(t, status, errs)
		whole := time.Since(began)
		for range 6 {
			c := exec.Command(program, job...)
			c.Dir = wild
			require.NoError(t, c.Start())
			time.Sleep(time.Duration(random.Int64N(int64(whole))))
			_ = c.Process.Kill()
			if c.Wait() == nil {
				require.NoError(t, errors.Join(os.RemoveAll(wild), os.Mkdir(wild, 0o755))) // it was faster: begin again
			}
			if job[0] == "analyse" {
				requireWhole(t, wild)
			} else if _, err := os.Stat(filepath.Join(wild, "l.phases")); err == nil {
				status, _, errs := launch(t, program, wild, nil, "library", "check", "l.phases")
				require.Zero(t, status, errs)
			}
		}
		status, _, errs = launch(t, program, wild, nil, job...)
		require.Zero(t, status, errs)
		if job[0] == "library" { // its rows may lie in another order
			for i, dir := range []string{calm, wild} {
				_, out, errs := launch(t, program, dir, nil, "library", "list", "--no-starter", "--library", "l.phases")
				require.Empty(t, errs)
				require.Equal(t, 201, strings.Count(out, "\n"), i)
				require.NoError(t, os.WriteFile(filepath.Join(dir, "l.phases"), []byte(out), 0o600))
			}
		}
		left, right := content(t, calm), content(t, wild)
		assert.Equal(t, len(left), len(right), "nothing of killed runs stays")
		for name, text := range left {
			assert.True(t, text == right[strings.Replace(name, "-calm", "-wild", 1)], "%s differs from that of a run that nobody disturbed", name)
		}
	}
}

// A disk that is full is told with what to do; the answer is printed all the same, nothing half-written stays, and a build goes on when
// there is room.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=192k"); err != nil {
		t.Skipf("SKIPPED: no small file system can be made here, so a full disk was NOT tested: %v", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, 0) })
	program, scan := programFile(t), demo(t)
	structures := filepath.Join(t.TempDir(), "cif")
	invented(t, structures, 60)
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"analyse", scan, "--elements", "Cu,Sn", "--out", "r"}, `^phasetally: r: write \S+: no space left on device; check the free space .*\n$`},
		{[]string{"simulate", "--phase", "copper=100", "--step", "0.001", "--out", "s.xy"}, `^phasetally: s\.xy: write \S+: no space left on device; .*\n$`},
		{[]string{"library", "build", "l.phases", structures}, `^phasetally: l\.phases\.part: no space is left on the disk; make room and build again\n$`},
		{[]string{"series", scan, "--phase", "copper", "--out", "t"}, `no space left on device`},
	} {
		status, out, errs := launch(t, program, dir, nil, c.args...)
		assert.Equal(t, exitBadInput, status, "%v: %s", c.args, errs)
		assert.Regexp(t, regexp.MustCompile(c.says), errs, "%v", c.args)
		if c.args[0] == "analyse" {
			assert.Contains(t, out, "bronze (α)", "the answer is not lost")
		}
		left, err := os.ReadDir(dir)
		require.NoError(t, err)
		for _, e := range left {
			if e.Name() != "l.phases.part" && e.Name() != "t" {
				t.Errorf("%v leaves %s", c.args, e.Name())
			}
		}
		require.NoError(t, os.RemoveAll(filepath.Join(dir, "t")))
	}
	require.NoError(t, syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=8m"))
	status, _, errs := launch(t, program, dir, nil, "library", "build", "l.phases", structures)
	assert.Zero(t, status, errs)

	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	require.NoError(t, err)
	defer full.Close()
	c := exec.Command(program, "peaks", scan)
	var said bytes.Buffer
	c.Stdout, c.Stderr = full, &said
	require.Error(t, c.Run())
	assert.Equal(t, exitBadInput, c.ProcessState.ExitCode())
	assert.Equal(t, "phasetally: write /dev/stdout: no space left on device; make room, or write to another disk\n", said.String())
}

// Where nothing can be written, it is said, and the answer is printed all the same.
func TestReadOnlyPlace(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_RDONLY, "size=192k"); err != nil {
		t.Skipf("SKIPPED: no file system for reading only can be made here, so it was NOT tested: %v", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, 0) })
	program, scan := programFile(t), demo(t)
	for _, args := range [][]string{
		{"analyse", scan, "--elements", "Cu,Sn", "--out", "r"}, {"simulate", "--phase", "copper=100", "--out", "s.xy"}, {"library", "build", "l.phases", filepath.Dir(scan) + "/hostile/cif-good.cif"},
		{"series", scan, "--phase", "copper", "--out", "t"}, {"lines", "copper", "--figure", "c.svg"},
	} {
		status, out, errs := launch(t, program, dir, nil, args...)
		assert.Equal(t, exitBadInput, status, "%v: %s", args, errs)
		assert.Regexp(t, `^phasetally: .*read-only file system.*\n$`, errs, "%v", args)
		if args[0] == "analyse" {
			assert.Contains(t, out, "bronze (α)", "the answer is not lost")
		}
	}
}

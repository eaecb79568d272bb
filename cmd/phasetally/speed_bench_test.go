//go:build unix

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whole processes, from the start of the program to its end: processor time of all cores, most memory, and wall time. Goals
// on two cores: 200 ms and 100 MB for three named phases of 7251 points, 1.5 s and 250 MB for an analysis with all that it
// writes. Processor time tells more than wall time where other work is going on.
func BenchmarkProcess(b *testing.B) {
	root, err := filepath.Abs("../..")
	require.NoError(b, err)
	program := programFile(b)
	for _, c := range []struct {
		name, scan string
		args       []string
	}{
		{"quantify three phases", "../shared/data/cpd/cpd-1g.prn", []string{"quantify", "--phase", "corundum,fluorite,zincite", "--format", "json"}},
		{"analyse three phases", "../shared/data/cpd/cpd-1g.prn", []string{"analyse", "--elements", "Al,Ca,F,Zn,O", "--quiet", "--force", "--out", "all"}},
		{"analyse demo", "testdata/bushing-aged.xy", []string{"analyse", "--elements", "Cu,Sn", "--quiet", "--force", "--out", "all"}},
	} {
		b.Run(c.name, func(b *testing.B) {
			scan := filepath.Join(root, c.scan)
			if _, err := os.Stat(scan); err != nil {
				b.Skipf("SKIPPED: %s is absent, so this was NOT measured", c.scan)
			}
			b.Chdir(b.TempDir())
			var cpu, memory float64
			for b.Loop() {
				p := exec.Command(program, append([]string{c.args[0], scan}, c.args[1:]...)...)
				require.NoError(b, p.Run())
				cpu += (p.ProcessState.UserTime() + p.ProcessState.SystemTime()).Seconds()
				if u, ok := p.ProcessState.SysUsage().(*syscall.Rusage); ok {
					memory = max(memory, float64(u.Maxrss)/1024)
				}
			}
			b.ReportMetric(1e3*cpu/float64(b.N), "cpu-ms/op")
			b.ReportMetric(memory, "MB")
		})
	}
}

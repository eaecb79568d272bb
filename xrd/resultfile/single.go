package resultfile

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// WriteFile writes one file so that under its name there is afterwards either what was there before or all of the new
// content. Ask FreeFile before.
func WriteFile(name string, content []byte) error {
	if err := writeBeside(name, content); err != nil {
		return fmt.Errorf("%s: %w; check the folder and your permission there", name, err)
	}
	return nil
}

func writeBeside(name string, content []byte) error {
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+partial+"*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // after a success there is none
	_, err = f.Write(content)
	if err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}

// A FileMark is what every file of one kind that this program writes has in it.
type FileMark string

// InstrumentMark is that of instrument files.
const InstrumentMark FileMark = `schema = "phasetally.instrument/`

// SimulationMark is that of simulated scans, PlanMark that of the pages of plans.
const (
	SimulationMark FileMark = "# SIMULATED: not measured; "
	PlanMark       FileMark = `<meta name="generator" content="phasetally plan">`
)

// figureMarks are those of figures by extension.
var figureMarks = map[string]FileMark{
	".svg": "<metadata>phasetally</metadata>",
	".pdf": "/Producer (phasetally)",
	".png": "tEXtSoftware\x00phasetally",
}

// FigureMark returns that of a figure with this name, and false for an extension that is no figure's.
func FigureMark(name string) (FileMark, bool) {
	m, ok := figureMarks[strings.ToLower(filepath.Ext(name))]
	return m, ok
}

// largestOurs bounds what is read to look for a mark, in bytes; no file of ours comes near.
const largestOurs = 64 << 20

// FreeFile says before any work is done whether a single file may be written: under a name that is not taken, or with
// force in place of a file of the same kind that this program wrote. Anything else stays.
func FreeFile(name string, mark FileMark, force bool) error {
	info, err := os.Lstat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s: is no plain file; give another name", name)
	case !force:
		return fmt.Errorf("%s exists; replace it with --force, or give another name", name)
	case info.Size() == 0:
		return nil
	case info.Size() <= largestOurs:
		raw, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		if bytes.Contains(raw, []byte(mark)) {
			return nil
		}
	}
	return fmt.Errorf("%s exists and phasetally has not written it as a file of this kind; it is never replaced, not even with --force: give another name", name)
}

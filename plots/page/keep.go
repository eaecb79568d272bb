package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"phasetally/xrd/resultfile"
	"phasetally/xrd/session"
)

// ErrKept says that what was kept cannot be read; test with errors.Is.
var ErrKept = errors.New("the choices that were kept cannot be read")

// kept is what stands in the file of choices.
type kept struct {
	Schema string             `json:"schema"`
	Shown  int                `json:"shown"`
	Files  []fileEntry        `json:"files"`
	Scans  []*session.Session `json:"scans"`
}

const (
	keptSchema = "phasetally.choices/1"
	keptName   = "choices.json"
	heldName   = "in-use"
	// largestKept bounds what is read back, in bytes: thousands of choices.
	largestKept = 64 << 20
)

// hold makes sure that no other page keeps its choices in the same folder: one would write over those of the other. A folder that
// cannot be written is told on the page.
func (s *Server) hold() error {
	if s.o.ReadOnly || os.MkdirAll(s.o.Keep, 0o755) != nil {
		return nil
	}
	release, err := resultfile.Hold(filepath.Join(s.o.Keep, heldName))
	if errors.Is(err, resultfile.ErrHeld) {
		return fmt.Errorf("%s: %w: %w; use that page, or give another folder with --keep", s.o.Keep, ErrKept, err)
	}
	if err == nil {
		s.release = release
	}
	return nil
}

// restore finds what an earlier page has kept.
func (s *Server) restore() error {
	if folder, err := os.Stat(s.o.Keep); err != nil || !folder.IsDir() {
		return nil
	}
	name := filepath.Join(s.o.Keep, keptName)
	info, err := os.Stat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	refused := func(why error) error {
		return fmt.Errorf("%s: %w: %w; move it away, or give another folder with --keep", name, ErrKept, why)
	}
	if err != nil {
		return refused(err)
	}
	if info.Size() > largestKept {
		return refused(errors.New("it is too large to be ours"))
	}
	raw, err := os.ReadFile(name)
	if err != nil {
		return refused(err)
	}
	var k kept
	if err := json.Unmarshal(raw, &k); err != nil {
		return refused(err)
	}
	if k.Schema != keptSchema {
		return refused(fmt.Errorf("its schema is %.40q", k.Schema))
	}
	for _, one := range k.Scans {
		if one == nil || !one.Sound() {
			return refused(errors.New("a scan in it has choices that do not follow from one another"))
		}
		s.benches = append(s.benches, &bench{session: one})
	}
	s.files, s.shown = k.Files, k.Shown
	if s.now() == nil {
		s.shown = 0
	}
	return nil
}

// keep writes the choices down. That it could not is told on the page; work goes on. The lock is held.
func (s *Server) keep() {
	if s.o.ReadOnly || len(s.benches) == 0 {
		return
	}
	k := kept{Schema: keptSchema, Shown: s.shown, Files: s.files}
	for _, b := range s.benches {
		k.Scans = append(k.Scans, b.session)
	}
	raw, err := json.MarshalIndent(k, "", " ")
	if err == nil {
		err = os.MkdirAll(s.o.Keep, 0o755)
	}
	if err == nil {
		err = resultfile.WriteFile(filepath.Join(s.o.Keep, keptName), append(raw, '\n'))
	}
	s.unkept = ""
	if err != nil {
		s.unkept = "Choices are not kept: " + err.Error()
	}
}

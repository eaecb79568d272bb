package library

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"phasetally/refdata"
	"phasetally/refdata/listfile"
	"phasetally/refdata/structure"
)

// Errors of files and collections; test with errors.Is.
var (
	ErrDuplicate = errors.New("the id is taken already")
	ErrNoPhases  = errors.New("there is no phase")
	ErrKind      = errors.New("not a CIF, a reference list (CSV, TSV) or a built library")
	ErrTooLarge  = errors.New("the file is larger than 64 MB")
	ErrNotPlain  = errors.New("neither a file nor a folder")
)

// A Problem is a file or a phase that could not be used, and why.
type Problem struct {
	File string // name as it was given
	ID   string // empty when it is about the whole file
	Err  error  // what is wrong
	Note bool   // the phase is used all the same, not all that the file says of it
}

// String gives one line.
func (p Problem) String() string {
	text := p.Err.Error()
	if p.ID != "" {
		text = p.ID + ": " + text
	}
	text = strings.ReplaceAll(text, p.ID+": "+p.ID+": ", p.ID+": ") // some errors name their phase
	if strings.HasPrefix(text, p.File) {
		return text
	}
	return p.File + ": " + text
}

// FromFiles reads CIFs, reference lists, folders of them and built libraries. Files that are bad are left out and
// reported, as are phases whose id an earlier file has. The error is ErrNoPhases when nothing is left, that of a path that
// cannot be opened, or that of the context.
func FromFiles(ctx context.Context, paths ...string) (*Library, []Problem, error) {
	return FromFilesTold(ctx, nil, paths...)
}

// FromFilesTold is FromFiles that tells, unless progress is nil, after each CIF or list how many are read; calls do not overlap.
func FromFilesTold(ctx context.Context, progress func(Progress), paths ...string) (*Library, []Problem, error) {
	files, err := inputs(paths)
	if err != nil {
		return nil, nil, err
	}
	var built []*Library
	var loose []string
	for _, file := range files {
		if !isBuilt(file) {
			loose = append(loose, file)
			continue
		}
		lib, err := Open(file)
		if err != nil {
			return nil, nil, errors.Join(err, Merge(built...).Close())
		}
		built = append(built, lib)
	}
	contents, err := readAll(ctx, loose, progress)
	if err != nil {
		return nil, nil, errors.Join(err, Merge(built...).Close())
	}
	lib, problems := gather(contents)
	if lib.Len() > 0 {
		built = append(built, lib)
	}
	if lib = Merge(built...); lib.Len() == 0 {
		return nil, problems, errors.Join(fmt.Errorf("%w in %s", ErrNoPhases, strings.Join(paths, ", ")), lib.Close())
	}
	return lib, problems, nil
}

// inputs lists the files of all paths: folders with everything below them that has a known extension, in order of name.
func inputs(paths []string) ([]string, error) {
	var files []string
	for _, path := range paths {
		if info, err := os.Stat(path); err == nil && info.IsDir() {
			path = strings.TrimRight(path, string(filepath.Separator)) + string(filepath.Separator) // follows a link to a folder
		}
		err := filepath.WalkDir(path, func(name string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case d.IsDir():
				return nil
			case name == path || slices.Contains([]string{".cif", ".csv", ".tsv"}, strings.ToLower(filepath.Ext(name))):
				files = append(files, name)
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	slices.Sort(files)
	return slices.Compact(files), nil
}

// A content is what one file gave.
type content struct {
	file, sha256 string
	structures   []*structure.Structure
	lists        []listfile.List
	entries      []refdata.Entry // structures first, then lists
	err          error
}

// readAll reads files on two cores; results stay in order. Bad files carry their error.
func readAll(ctx context.Context, files []string, progress func(Progress)) ([]content, error) {
	contents := make([]content, len(files))
	var telling sync.Mutex
	done := 0
	var g errgroup.Group
	g.SetLimit(workers)
	for i, file := range files {
		g.Go(func() error {
			if ctx.Err() == nil {
				contents[i] = readFile(file)
			}
			if progress != nil {
				telling.Lock()
				defer telling.Unlock()
				done++
				progress(Progress{done, len(files), file})
			}
			return ctx.Err()
		})
	}
	return contents, g.Wait()
}

// maxFile is the largest file that is read: as much as the readers of both formats take.
const maxFile = listfile.MaxBytes

// load returns a file's bytes and their digest.
func load(file string) ([]byte, string, error) {
	if info, err := os.Stat(file); err != nil {
		return nil, "", err
	} else if !info.Mode().IsRegular() {
		return nil, "", fmt.Errorf("%s: %w", file, ErrNotPlain)
	} else if info.Size() > maxFile {
		return nil, "", fmt.Errorf("%s: %w", file, ErrTooLarge)
	}
	raw, err := os.ReadFile(file)
	sum := sha256.Sum256(raw)
	return raw, hex.EncodeToString(sum[:]), err
}

func readFile(file string) content {
	raw, sum, err := load(file)
	if err != nil {
		return content{file: file, sha256: sum, err: err}
	}
	return parse(file, sum, raw)
}

// parse reads the phases and computes what screening needs.
func parse(file, sum string, raw []byte) content {
	c := content{file: file, sha256: sum}
	switch strings.ToLower(filepath.Ext(file)) {
	case ".cif":
		c.structures, c.err = structure.Read(bytes.NewReader(raw), file)
	case ".csv", ".tsv", ".txt":
		c.lists, c.err = listfile.Read(bytes.NewReader(raw), file)
	default:
		c.err = fmt.Errorf("%s: %w", file, ErrKind)
	}
	for _, s := range c.structures {
		phase, err := s.Phase(screeningBeam)
		if err == nil && len(phase.Lines) == 0 {
			err = listfile.ErrNoLines
		}
		if err != nil {
			return content{file: file, sha256: sum, err: fmt.Errorf("%s: %w", s.ID, err)}
		}
		e := refdata.Entry{ID: s.ID, Name: s.Name, Formula: s.Formula, Strong: strongLines(phase), Preparation: s.Preparation, SolidSolution: s.SolidSolution,
			Elements: s.Elements()}
		c.entries = append(c.entries, e)
	}
	for i := range c.lists {
		c.entries = append(c.entries, listEntry(&c.lists[i]))
	}
	return c
}

// gather makes one library of the contents of files.
func gather(contents []content) (*Library, []Problem) {
	p := &memory{}
	var problems []Problem
	taken := map[string]string{}
	for _, c := range contents {
		if c.err != nil {
			problems = append(problems, Problem{File: c.file, Err: c.err})
			continue
		}
		problems = append(problems, notes(c)...)
		for i, e := range c.entries {
			key := strings.ToLower(e.ID)
			if other, ok := taken[key]; ok {
				problems = append(problems, duplicate(c.file, e.ID, other))
				continue
			}
			taken[key] = c.file
			p.entries = append(p.entries, e)
			p.from = append(p.from, Source{c.file, c.sha256, len(c.entries)})
			p.compute = append(p.compute, c.computer(i))
		}
	}
	return newLibrary(p), problems
}

func duplicate(file, id, other string) Problem {
	return Problem{File: file, ID: id, Err: fmt.Errorf("%w by %s; rename one of the two", ErrDuplicate, other)}
}

// notes reports what the reader of a list did not use.
func notes(c content) []Problem {
	var list []Problem
	for _, l := range c.lists {
		for _, note := range l.Notes {
			list = append(list, Problem{c.file, l.ID, errors.New(note), true})
		}
	}
	return list
}

func (c content) computer(i int) computer {
	if i < len(c.structures) {
		return c.structures[i].Phase
	}
	return c.lists[i-len(c.structures)].Phase
}

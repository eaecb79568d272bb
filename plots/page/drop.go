package page

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"phasetally/xrd/resultfile"
	"phasetally/xrd/session"
)

// Bounds of what can be dropped: far more than any scan or collection of structures needs.
const (
	largestDrop = 256 << 20 // bytes of one request
	largestFile = 64 << 20  // bytes of one file
	mostFiles   = 500       // in one request
	longestName = 100       // letters
	dropFolder  = "dropped" // in the folder that is kept
)

// A dropReply says of each file what became of it.
type dropReply struct {
	Name  string `json:"name"`
	Words string `json:"words"`
	Bad   bool   `json:"bad"`
}

// postDrop takes files in. One that cannot be read is told and left out; the others are taken.
func (s *Server) postDrop(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, largestDrop)
	parts, err := r.MultipartReader()
	if err != nil {
		object(w, fmt.Errorf("the request is not understood: %w", err))
		return
	}
	out := []dropReply{}
	var scans, references []string
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil && len(out) == mostFiles {
			err = fmt.Errorf("more than %d files at once; drop fewer", mostFiles)
		}
		if err != nil {
			out = append(out, dropReply{"", "The rest was not read: " + err.Error(), true})
			break
		}
		f, err := s.take(r.Context(), part.FileName(), part)
		if err != nil {
			out = append(out, dropReply{part.FileName(), err.Error(), true})
			continue
		}
		out = append(out, dropReply{f.Name, f.Words, false})
		switch f.Kind {
		case KindScan:
			scans = append(scans, f.Path)
		case KindReference:
			references = append(references, f.Path)
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.addDropped(scans, references)
	reply(w, out)
}

// addDropped opens the scans and lets the one that is shown use the reference data. The lock is held.
func (s *Server) addDropped(scans, references []string) {
	given := s.o.Given
	if len(references) > 0 && len(scans) > 0 {
		given = session.Settings{}
		maps.Copy(given, s.o.Given)
		given["library"] = append(slices.Clone(given["library"]), references...)
	}
	first := -1
	for _, path := range scans {
		k := slices.IndexFunc(s.benches, func(b *bench) bool { return b.session.Scan == path })
		if k < 0 {
			k = len(s.benches)
			s.benches = append(s.benches, &bench{session: session.New(path, given)})
		}
		if first < 0 {
			first = k
		}
	}
	switch b := s.now(); {
	case first >= 0:
		s.open(first)
		go s.solveAll()
	case len(references) > 0 && b != nil:
		use := slices.Clone(b.session.Now().Settings["library"])
		for _, path := range references {
			if !slices.Contains(use, path) {
				use = append(use, path)
			}
		}
		if err := b.session.Apply(session.Choice{Kind: session.Set, Values: session.Settings{"library": use}}, nil); err == nil {
			b.trouble = ""
			s.settle(b)
		}
	}
	s.keep()
	s.changed()
}

// take writes a dropped file into the folder that is kept, under a name that leads nowhere else, and asks what it is for.
func (s *Server) take(ctx context.Context, name string, from io.Reader) (fileEntry, error) {
	content, err := io.ReadAll(io.LimitReader(from, largestFile+1))
	switch {
	case err != nil:
		return fileEntry{}, fmt.Errorf("was not read to its end: %w", err)
	case len(content) > largestFile:
		return fileEntry{}, fmt.Errorf("is larger than %d MB; no scan or list is", largestFile>>20)
	case len(content) == 0:
		return fileEntry{}, errors.New("is empty")
	}
	folder := filepath.Join(s.o.Keep, dropFolder)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fileEntry{}, fmt.Errorf("could not be kept: %w", err)
	}
	path, err := placeFor(folder, plainFileName(name), content)
	if err != nil {
		return fileEntry{}, fmt.Errorf("could not be kept: %w", err)
	}
	kind, words, err := s.o.Recognise(ctx, path)
	if err != nil {
		_ = os.Remove(path)
		return fileEntry{}, errors.New(strings.ReplaceAll(err.Error(), path, plainFileName(name)))
	}
	f := fileEntry{Name: filepath.Base(path), Path: path, Kind: kind, Words: words}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.adopt(f)
	return f, nil
}

// placeFor writes the content under a name that is free, or finds it where it already is.
func placeFor(folder, name string, content []byte) (string, error) {
	ext := filepath.Ext(name)
	stem := strings.TrimSuffix(name, ext)
	for i := 1; i <= mostFiles; i++ {
		path := filepath.Join(folder, name)
		if i > 1 {
			path = filepath.Join(folder, fmt.Sprintf("%s-%d%s", stem, i, ext))
		}
		old, err := os.ReadFile(path)
		switch {
		case errors.Is(err, os.ErrNotExist):
			return path, resultfile.WriteFile(path, content)
		case err == nil && bytes.Equal(old, content):
			return path, nil
		}
	}
	return "", fmt.Errorf("there are %d others of its name", mostFiles)
}

// plainFileName keeps letters, digits and a few marks of the last part of a name that a browser has sent.
func plainFileName(name string) string {
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	letters := []rune(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsLetter(r), unicode.IsDigit(r), strings.ContainsRune("._-+()", r):
			return r
		case unicode.IsSpace(r):
			return '-'
		}
		return -1
	}, name))
	if n := len(letters); n > longestName { // the ending says how it is read
		letters = letters[n-longestName:]
	}
	plain := strings.TrimLeft(string(letters), ".-")
	if plain == "" {
		return "file"
	}
	return plain
}

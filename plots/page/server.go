package page

import (
	"context"
	"crypto/rand"
	"fmt"
	"net"
	"slices"
	"strings"
	"sync"

	"phasetally/xrd/result"
	"phasetally/xrd/session"
)

// A Kind says what a file is for.
type Kind string

// The kinds of files that can be dropped.
const (
	KindScan        Kind = "scan"
	KindReference   Kind = "reference data"
	KindInstrument  Kind = "instrument"
	KindPreparation Kind = "preparation materials"
)

// Options say what a page is of.
type Options struct {
	Load session.Loader // reads the scans and the settings that arguments name
	// Recognise says what a dropped file is for, in a kind and in words; an error when it can be read as nothing.
	Recognise func(ctx context.Context, file string) (Kind, string, error)
	// Save writes the result folder of a scan and returns its name. An existing one is replaced only when that is wanted.
	Save func(scan string, r result.Analysis, replace bool) (folder string, err error)

	Keep     string           // folder for what is to be found again: choices and dropped files
	Scans    []string         // to begin with
	Given    session.Settings // for each of them
	ReadOnly bool             // nothing can be changed, for a shared screen
}

// A Server is a page with its scans.
type Server struct {
	o    Options
	key  string
	host string // and port, as browsers send it
	ctx  context.Context

	mu       sync.Mutex
	benches  []*bench
	shown    int // of benches
	files    []fileEntry
	revision int
	asking   int // requests that work ahead waits for
	watchers map[chan struct{}]bool
	unkept   string // why choices could not be kept
	release  func() // of the folder that is kept
}

// A fileEntry is one that a choice may name.
type fileEntry struct {
	Name  string `json:"name"` // as it is shown, each once
	Path  string `json:"path"`
	Kind  Kind   `json:"kind"`
	Words string `json:"words"`
}

// New makes a page that ends with the context. What was kept is found again; ErrKept tells when that cannot be read, or when another
// page has it. Call Close when it is not served.
func New(ctx context.Context, o Options) (*Server, error) {
	s := &Server{o: o, key: rand.Text(), ctx: ctx, watchers: map[chan struct{}]bool{}, release: func() {}}
	if err := s.hold(); err != nil {
		return nil, err
	}
	if err := s.restore(); err != nil {
		s.Close()
		return nil, err
	}
	for name, values := range o.Given {
		if f, ok := session.FieldOf(name); ok && f.HoldsFile() {
			for _, v := range values {
				path := v
				if f.Kind == session.Scan {
					path = v[:max(0, strings.LastIndexByte(v, '='))]
				}
				s.adopt(fileEntry{Name: path, Path: path, Kind: kindOf(f)})
			}
		}
	}
	for i, scan := range o.Scans {
		k := slices.IndexFunc(s.benches, func(b *bench) bool {
			return b.session.Scan == scan && sameSettings(b.session.States[0].Choice.Values, o.Given)
		})
		if k < 0 {
			k = len(s.benches)
			s.benches = append(s.benches, &bench{session: session.New(scan, o.Given)})
		}
		if i == 0 {
			s.shown = k
		}
		s.adopt(fileEntry{Name: scan, Path: scan, Kind: KindScan})
	}
	return s, nil
}

func sameSettings(a, b session.Settings) bool {
	return fmt.Sprint(a) == fmt.Sprint(b) || len(b) == 0 // maps print in order of their keys
}

func kindOf(f session.Field) Kind {
	switch f.Name {
	case "library":
		return KindReference
	case "instrument":
		return KindInstrument
	case "preparation":
		return KindPreparation
	}
	return KindScan
}

// adopt makes a file known by a name of its own.
func (s *Server) adopt(f fileEntry) {
	if f.Path == "" || slices.ContainsFunc(s.files, func(g fileEntry) bool { return g.Path == f.Path }) {
		return
	}
	s.files = append(s.files, f)
}

// Close gives the folder that is kept free for another page.
func (s *Server) Close() { s.release() }

// Address is where the page of a listener is to be opened; it holds the key.
func (s *Server) Address(l net.Listener) string {
	return "http://" + l.Addr().String() + "/?key=" + s.key
}

func seq(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// changed tells every tab that there is something new. The lock is held.
func (s *Server) changed() {
	s.revision++
	for w := range s.watchers {
		select {
		case w <- struct{}{}:
		default: // it has not yet looked at the change before
		}
	}
}

// now is the bench that is shown; nil when there is none. The lock is held.
func (s *Server) now() *bench {
	if s.shown < 0 || s.shown >= len(s.benches) {
		return nil
	}
	return s.benches[s.shown]
}

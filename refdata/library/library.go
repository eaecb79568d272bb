package library

import (
	"errors"
	"strings"
	"sync"

	"phasetally/refdata"
)

// A Library is a collection of phases. Make one with Starter, FromRecords, FromFiles, Open or Merge, and Close it when
// it may hold built files.
type Library struct {
	origins       []origin // of every phase
	parts         []part
	solidSolution map[int]bool // phases that the user has declared solid solutions

	mu    sync.Mutex
	cache map[cacheKey]*computed
}

// An origin says which part an entry comes from, and which of the part's phases it is.
type origin struct{ part, index int32 }

// A part is where phases are computed.
type part interface {
	len() int
	entry(index int) refdata.Entry
	id(index int) string
	phase(index int, beam refdata.Beam) (refdata.Phase, error)
	source(index int) Source
	close() error
}

// A Source is where phases come from.
type Source struct {
	File   string // as the user wrote it; "starter" for the starter collection
	SHA256 string // of the file, hexadecimal
	Phases int    // that it holds
}

// StarterSource is the Source.File of the starter collection.
const StarterSource = "starter"

type cacheKey struct {
	entry int
	beam  refdata.Beam
}

// computed is a phase that one goroutine computes while others wait.
type computed struct {
	once  sync.Once
	phase refdata.Phase
	err   error
}

// maxCached bounds the memory that computed phases take.
const maxCached = 4096

// newLibrary makes a library of one part; of entries with the same id, the first is found by it.
func newLibrary(p part) *Library {
	l := &Library{parts: []part{p}, origins: make([]origin, p.len())}
	for i := range l.origins {
		l.origins[i].index = int32(i)
	}
	return l
}

// Merge returns the phases of all libraries, those of later ones first; a phase whose id a later library has is left out. The
// result takes over what the arguments hold open.
func Merge(libraries ...*Library) *Library {
	switch len(libraries) {
	case 0:
		return newLibrary(&memory{})
	case 1:
		return libraries[0]
	}
	total := 0
	for _, l := range libraries {
		total += l.Len()
	}
	merged := &Library{origins: make([]origin, 0, total)}
	for n := len(libraries) - 1; n >= 0; n-- {
		merged.append(libraries[n], libraries[n+1:])
	}
	return merged
}

func (l *Library) append(from *Library, shadows []*Library) {
	base := int32(len(l.parts))
	l.parts = append(l.parts, from.parts...)
	shadowed := from.shadowedBy(shadows)
	for i, o := range from.origins {
		if len(shadowed) == 0 || !shadowed[strings.ToLower(from.id(i))] {
			l.origins = append(l.origins, origin{o.part + base, o.index})
		}
	}
}

// shadowedBy returns which ids, in lower case, of a library others have, too. A large library among the others is read
// through rather than indexed, which costs much more.
func (l *Library) shadowedBy(others []*Library) map[string]bool {
	total := 0
	for _, o := range others {
		total += o.Len()
	}
	out := map[string]bool{}
	if total <= l.Len() {
		for _, o := range others {
			for i := range o.origins {
				out[strings.ToLower(o.id(i))] = true
			}
		}
		return out
	}
	own := make(map[string]bool, l.Len())
	for i := range l.origins {
		own[strings.ToLower(l.id(i))] = true
	}
	for _, o := range others {
		for i := range o.origins {
			if id := strings.ToLower(o.id(i)); own[id] {
				out[id] = true
			}
		}
	}
	return out
}

// Len returns the number of phases.
func (l *Library) Len() int { return len(l.origins) }

// Entry returns what screening needs of phase i. Its slices are shared; do not change them.
func (l *Library) Entry(i int) refdata.Entry {
	o := l.origins[i]
	e := l.parts[o.part].entry(int(o.index))
	e.SolidSolution = e.SolidSolution || l.solidSolution[i]
	return e
}

// DeclareSolidSolution says that phase i forms solid solutions, so that its cell may depart from the reference by several per
// cent. Call it before anything is computed.
func (l *Library) DeclareSolidSolution(i int) {
	if l.solidSolution == nil {
		l.solidSolution = map[int]bool{}
	}
	l.solidSolution[i] = true
}

func (l *Library) id(i int) string {
	o := l.origins[i]
	return l.parts[o.part].id(int(o.index))
}

// Find returns the index of a phase by its id, in any case. It reads through all ids: a few look-ups cost less than an index of
// a large library.
func (l *Library) Find(id string) (int, bool) {
	id = strings.TrimSpace(id)
	for i := range l.origins {
		if strings.EqualFold(l.id(i), id) {
			return i, true
		}
	}
	return 0, false
}

// Source returns where phase i comes from.
func (l *Library) Source(i int) Source {
	o := l.origins[i]
	return l.parts[o.part].source(int(o.index))
}

// FromUser reports whether the user supplied phase i, rather than the starter collection.
func (l *Library) FromUser(i int) bool { return l.Source(i).File != StarterSource }

// Phase computes phase i for a beam, once: later calls return the same phase. Do not change its slices.
func (l *Library) Phase(i int, beam refdata.Beam) (refdata.Phase, error) {
	c := l.cached(cacheKey{i, beam})
	c.once.Do(func() {
		o := l.origins[i]
		c.phase, c.err = l.parts[o.part].phase(int(o.index), beam)
		c.phase.SolidSolution = c.phase.SolidSolution || l.solidSolution[i]
	})
	return c.phase, c.err
}

func (l *Library) cached(key cacheKey) *computed {
	l.mu.Lock()
	defer l.mu.Unlock()
	c := l.cache[key]
	if c == nil {
		if l.cache == nil || len(l.cache) >= maxCached {
			l.cache = map[cacheKey]*computed{}
		}
		c = &computed{}
		l.cache[key] = c
	}
	return c
}

// Sources returns the files and collections that the phases come from, each once, in order of first use, and then what the
// user has declared of phases.
func (l *Library) Sources() []Source {
	var list []Source
	seen := map[string]bool{}
	for i := range l.origins {
		if s := l.Source(i); !seen[s.File] {
			seen[s.File] = true
			list = append(list, s)
		}
	}
	for i := range l.origins {
		if l.solidSolution[i] {
			list = append(list, Source{File: "declared a solid solution: " + l.id(i), Phases: 1})
		}
	}
	return list
}

// Close closes built files.
func (l *Library) Close() error {
	var errs []error
	for _, p := range l.parts {
		errs = append(errs, p.close())
	}
	return errors.Join(errs...)
}

package library

import (
	"cmp"
	"slices"
	"sync"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/refdata/listfile"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// Starter returns the starter collection.
func Starter() *Library {
	return FromRecords(StarterSource, refdata.StarterDigest(), refdata.Starter())
}

// FromRecords returns structures as a library; file and sha256 say where they come from. Records without strong lines
// get them computed when the library is made.
func FromRecords(file, sha256 string, records []refdata.Record) *Library {
	p := &memory{entries: make([]refdata.Entry, len(records)), from: make([]Source, len(records)), compute: make([]computer, len(records))}
	for i := range records {
		r := &records[i]
		p.from[i] = Source{file, sha256, len(records)}
		lazy := sync.OnceValues(func() (*structure.Structure, error) { return structure.FromRecord(*r) })
		p.compute[i] = func(beam refdata.Beam) (refdata.Phase, error) {
			s, err := lazy()
			if err != nil {
				return refdata.Phase{}, err
			}
			return s.Phase(beam)
		}
		p.entries[i] = recordEntry(r)
		if p.entries[i].Strong == nil {
			phase, _ := p.compute[i](screeningBeam) // a record that cannot be computed has no lines, and says why when asked
			p.entries[i].Strong = strongLines(phase)
		}
	}
	return newLibrary(p)
}

// A computer makes a phase for a beam.
type computer func(refdata.Beam) (refdata.Phase, error)

// memory is phases whose structures and lists are held.
type memory struct {
	entries []refdata.Entry
	compute []computer
	from    []Source
}

func (m *memory) len() int                  { return len(m.entries) }
func (m *memory) entry(i int) refdata.Entry { return m.entries[i] }
func (m *memory) id(i int) string           { return m.entries[i].ID }

func (m *memory) phase(i int, beam refdata.Beam) (refdata.Phase, error) { return m.compute[i](beam) }
func (m *memory) source(i int) Source                                   { return m.from[i] }
func (m *memory) close() error                                          { return nil }

func recordEntry(r *refdata.Record) refdata.Entry {
	e := refdata.Entry{ID: r.ID, Name: r.Name, Formula: r.Formula, Strong: r.Strong, Preparation: r.Preparation, SolidSolution: r.SolidSolution}
	for _, a := range r.Atoms {
		if el, ok := element.Lookup(a.Element); ok {
			e.Elements = e.Elements.With(el.Z)
		}
	}
	return e
}

func listEntry(l *listfile.List) refdata.Entry {
	e := refdata.Entry{ID: l.ID, Name: l.Name, Formula: l.Formula, Elements: l.Elements(), Preparation: l.Preparation, SolidSolution: l.SolidSolution}
	phase, err := l.Phase(screeningBeam)
	if err != nil { // no line within reach of copper: screen by the list as it is
		for _, row := range l.Rows {
			phase.Lines = append(phase.Lines, refdata.Line{D: row.D, Intensity: row.Intensity})
		}
	}
	e.Strong = strongLines(phase)
	return e
}

// screeningBeam is what the strong lines of every entry hold for.
var screeningBeam = func() refdata.Beam {
	copper, _ := xrd.ParseRadiation("Cu")
	return refdata.Beam{Radiation: copper}
}()

// Strong lines are at most maxStrong, between minStrongD and maxStrongD Å.
const (
	maxStrong              = 12
	minStrongD, maxStrongD = 0.7, 25
)

// strongLines returns the strongest lines, strongest first; of equals the one at the larger spacing.
func strongLines(p refdata.Phase) []refdata.StrongLine {
	var list []refdata.StrongLine
	for _, line := range p.Lines {
		if line.D >= minStrongD && line.D <= maxStrongD {
			list = append(list, refdata.StrongLine{D: float32(line.D), Intensity: float32(line.Intensity)})
		}
	}
	slices.SortStableFunc(list, func(a, b refdata.StrongLine) int { return cmp.Compare(b.Intensity, a.Intensity) })
	return slices.Clone(list[:min(maxStrong, len(list))])
}

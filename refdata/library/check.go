package library

import (
	"context"
	"errors"
	"fmt"
	"math"

	"phasetally/refdata"
)

// Errors that Check reports; test with errors.Is.
var (
	ErrStrongLines = errors.New("the strong lines are not those of the phase")
	ErrNoRatio     = errors.New("there is no RIR, so no fraction can be computed")
)

// Problems returns what building told of files and phases that are not in the library, for the built files among its
// parts.
func (l *Library) Problems() ([]Problem, error) {
	var list []Problem
	for _, p := range l.parts {
		if s, ok := p.(*store); ok {
			found, err := s.problems()
			if err != nil {
				return nil, err
			}
			list = append(list, found...)
		}
	}
	return list, nil
}

func (s *store) problems() (list []Problem, err error) {
	rows, err := s.db.Query(`SELECT file, problem.id, text, EXISTS (SELECT 1 FROM file AS f, json_each(f.notes) AS n
		WHERE f.path = problem.file AND n.value ->> 0 = problem.id AND n.value ->> 1 = text) FROM problem`)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var file, id, text string
		var note bool
		if err := rows.Scan(&file, &id, &text, &note); err != nil {
			return nil, err
		}
		list = append(list, Problem{File: file, ID: id, Err: errors.New(text), Note: note})
	}
	return list, rows.Err()
}

// Check computes every phase for copper and reports those that cannot be computed, have no RIR, or whose strong lines
// are not what the phase gives now, together with Problems and what is damaged anywhere in built files. The context is asked before each phase.
func (l *Library) Check(ctx context.Context, progress func(Progress)) ([]Problem, error) {
	list, err := l.Problems()
	if err != nil {
		return nil, err
	}
	for _, p := range l.parts {
		if s, ok := p.(*store); ok {
			if err := verify(s.db); err != nil {
				list = append(list, Problem{File: s.from.File, Err: err})
			}
		}
	}
	for i := range l.origins {
		if err := ctx.Err(); err != nil {
			return list, err
		}
		if err := l.checkPhase(i); err != nil {
			list = append(list, Problem{File: l.Source(i).File, ID: l.id(i), Err: err})
		}
		if progress != nil {
			progress(Progress{i + 1, l.Len(), l.id(i)})
		}
	}
	return list, nil
}

func (l *Library) checkPhase(i int) error {
	o := l.origins[i]
	phase, err := l.parts[o.part].phase(int(o.index), screeningBeam) // not cached: each is needed once
	switch {
	case err != nil:
		return err
	case !sameLines(strongLines(phase), l.Entry(i).Strong):
		return ErrStrongLines
	case !(phase.RIR.Value > 0):
		return ErrNoRatio
	}
	return nil
}

// sameLines allows for the digits that tables keep.
func sameLines(a, b []refdata.StrongLine) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !(math.Abs(float64(a[i].D/b[i].D)-1) < 1e-4) || !(math.Abs(float64(a[i].Intensity-b[i].Intensity)) < 0.02) {
			return false
		}
	}
	return true
}

// String tells what a build did, in one line.
func (r Report) String() string {
	return fmt.Sprintf("%d phases from %d files, %d of them unchanged; %d problems", r.Phases, r.Files, r.Unchanged, len(r.Problems))
}

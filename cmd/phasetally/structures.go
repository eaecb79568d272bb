package main

import (
	"fmt"
	"os"
	"path/filepath"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/refdata/structure"
)

// phasesOf computes the phases that files and ids name.
func phasesOf(names []string, beam refdata.Beam) ([]refdata.Phase, error) {
	var out []refdata.Phase
	for _, name := range names {
		if _, err := os.Stat(name); err != nil && filepath.Ext(name) == "" {
			lib := library.Starter()
			i, err := lib.Lookup(name)
			if err != nil {
				return nil, err
			}
			p, err := lib.Phase(i, beam)
			if err != nil {
				return nil, failure{err}
			}
			out = append(out, p)
			continue
		}
		phases, err := phasesOfCIF(name, beam)
		if err != nil {
			return nil, err
		}
		out = append(out, phases...)
	}
	return out, nil
}

func phasesOfCIF(name string, beam refdata.Beam) ([]refdata.Phase, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, noFile(err)
	}
	defer f.Close()
	structures, err := structure.Read(f, name)
	if err != nil {
		return nil, err
	}
	var out []refdata.Phase
	for _, s := range structures {
		p, err := s.Phase(beam)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		out = append(out, p)
	}
	return out, nil
}

package main

import (
	"fmt"
	"os"
	"path/filepath"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/refdata/structure"
)

// phasesOf computes the phases that files and ids name. A height above 0 is the FWHM, degrees 2θ, at which the RIR is
// given by height instead of by area.
func phasesOf(names []string, beam refdata.Beam, height float64) ([]refdata.Phase, error) {
	var out []refdata.Phase
	for _, name := range names {
		structures, err := structuresOf(name)
		if err != nil {
			return nil, err
		}
		for _, s := range structures {
			p, err := s.Phase(beam)
			if err == nil && height > 0 {
				p.RIR, err = s.HeightRIR(beam, height)
			}
			if err != nil {
				return nil, fmt.Errorf("%s: %w", name, err)
			}
			out = append(out, p)
		}
	}
	return out, nil
}

// structuresOf reads a CIF, or takes a structure of the starter collection by its id.
func structuresOf(name string) ([]*structure.Structure, error) {
	if info, err := os.Stat(name); err == nil && info.IsDir() {
		return nil, fmt.Errorf("%s: is a folder; name the CIF files in it", name)
	}
	f, err := os.Open(name)
	if err != nil && filepath.Ext(name) == "" {
		return starterStructure(name)
	}
	if err != nil {
		return nil, noFile(err)
	}
	defer f.Close()
	return structure.Read(f, name)
}

// starterStructure takes a structure of the starter collection by any name that Lookup understands.
func starterStructure(name string) ([]*structure.Structure, error) {
	i, err := library.Starter().Lookup(name)
	if err != nil {
		return nil, fmt.Errorf("%w; 'phasetally library list' names all", err)
	}
	s, err := structure.FromRecord(refdata.Starter()[i])
	if err != nil {
		return nil, failure{err}
	}
	return []*structure.Structure{s}, nil
}

package refdata

import (
	"crypto/sha256"
	_ "embed" // the starter collection is compiled in
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"sync"
)

//go:embed starter_phases.csv
var starterPhases string

//go:embed starter_atoms.csv
var starterAtoms string

//go:embed starter_lines.csv
var starterLines string

// Starter returns the collection that is compiled in: structures of phases common in metals, intermetallics,
// superconductor, ceramics and minerals laboratories, with those that preparation leaves behind, in order of id. Each
// record carries its strongest lines for Cu Kα, so that screening costs no structure computation. The slice is shared;
// do not change it.
func Starter() []Record { return starter() }

// A table that does not parse cannot leave the build: a test parses it. Hence a panic, not an error nobody can act on.
var starter = sync.OnceValue(func() []Record {
	records, err := parseStarter(starterPhases, starterAtoms, starterLines)
	if err != nil {
		panic("refdata: " + err.Error())
	}
	return records
})

// errStarter says that the three tables of the starter collection do not fit together.
var errStarter = errors.New("starter collection is broken")

// parseStarter joins the phases with their atoms and their strongest lines, all three by id.
func parseStarter(phases, atoms, lines string) ([]Record, error) {
	rows, err := starterRows(phases, 15)
	if err != nil {
		return nil, err
	}
	records := make([]Record, len(rows))
	index := make(map[string]*Record, len(rows))
	for i, row := range rows {
		if records[i], err = starterRecord(row); err != nil {
			return nil, err
		}
		if index[row[0]] != nil {
			return nil, fmt.Errorf("%w: %s is there twice", errStarter, row[0])
		}
		index[row[0]] = &records[i]
	}
	if err := addStarterAtoms(index, atoms); err != nil {
		return nil, err
	}
	return records, addStarterLines(index, lines)
}

// starterRows returns the rows below the header, each of n fields (0: any number).
func starterRows(text string, n int) ([][]string, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord, r.Comment = n, '#'
	if n == 0 {
		r.FieldsPerRecord = -1
	}
	rows, err := r.ReadAll()
	if err != nil || len(rows) == 0 {
		return nil, fmt.Errorf("%w: no table: %w", errStarter, err)
	}
	return rows[1:], nil
}

// starterRecord reads id, name, formula, space group, six cell parameters, density, preparation, soluble, confidence,
// source.
func starterRecord(row []string) (Record, error) {
	var n [7]float64
	for i := range n {
		var err error
		if n[i], err = optionalFloat(row[4+i]); err != nil {
			return Record{}, fmt.Errorf("%w: %s: %w", errStarter, row[0], err)
		}
	}
	r := Record{
		ID: row[0], Name: row[1], Formula: row[2], SpaceGroup: row[3],
		Cell:         Cell{n[0], n[1], n[2], n[3], n[4], n[5]},
		KnownDensity: n[6], Preparation: row[11], SolidSolution: row[12] == "yes", Confidence: row[13], Source: row[14],
	}
	if err := r.Cell.Check(); err != nil {
		return Record{}, fmt.Errorf("%w: %s: %w", errStarter, row[0], err)
	}
	return r, nil
}

// addStarterAtoms reads id, label, element, x, y, z, occupancy, B.
func addStarterAtoms(index map[string]*Record, text string) error {
	rows, err := starterRows(text, 8)
	if err != nil {
		return err
	}
	for _, row := range rows {
		rec := index[row[0]]
		if rec == nil {
			return fmt.Errorf("%w: atom of the unknown phase %q", errStarter, row[0])
		}
		var n [5]float64
		for i := range n {
			if n[i], err = strconv.ParseFloat(row[3+i], 64); err != nil {
				return fmt.Errorf("%w: atom of %s: %w", errStarter, row[0], err)
			}
		}
		rec.Atoms = append(rec.Atoms, Atom{row[1], row[2], n[0], n[1], n[2], n[3], n[4]})
	}
	return nil
}

// addStarterLines reads id, then d and intensity of the strongest lines, strongest first.
func addStarterLines(index map[string]*Record, text string) error {
	rows, err := starterRows(text, 0)
	if err != nil {
		return err
	}
	for _, row := range rows {
		rec := index[row[0]]
		if rec == nil || len(row)%2 == 0 {
			return fmt.Errorf("%w: lines of %q", errStarter, row[0])
		}
		rec.Strong = make([]StrongLine, len(row)/2)
		for i := range rec.Strong {
			d, errD := strconv.ParseFloat(row[1+2*i], 32)
			intensity, errI := strconv.ParseFloat(row[2+2*i], 32)
			if err := errors.Join(errD, errI); err != nil {
				return fmt.Errorf("%w: lines of %s: %w", errStarter, row[0], err)
			}
			rec.Strong[i] = StrongLine{float32(d), float32(intensity)}
		}
	}
	return nil
}

func optionalFloat(s string) (float64, error) {
	if s == "" {
		return 0, nil
	}
	return strconv.ParseFloat(s, 64)
}

// StarterDigest returns the SHA-256 of the collection's tables, hexadecimal, for the record of what was used.
func StarterDigest() string {
	sum := sha256.Sum256([]byte(starterPhases + starterAtoms))
	return hex.EncodeToString(sum[:])
}

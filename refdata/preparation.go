package refdata

import (
	_ "embed" // the table is compiled in
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"phasetally/xrd"
)

//go:embed preparation.csv
var preparationTable string

// A Preparation is a material that grinding, polishing, etching, mounting or holding may put into the beam.
type Preparation struct {
	Material string    // its name
	Kind     string    // abrasive, polish, mount, holder, mill or etch
	Phase    string    // id of the phase; empty for none
	Lines    []float64 // further spacings, Å, strongest first; nil for those of the phase
	Haloes   []Halo    // strongest first; nil for none
	From     string    // where it comes from
	Tell     string    // how to tell it from the specimen
	Avoid    string    // how to keep it out of the beam
	Hazard   string    // empty: none beyond those of the work itself
}

// A Halo is a broad hump of a material without long-range order.
type Halo struct {
	D     float64 // spacing of its top, Å
	Width float64 // FWHM, degrees 2θ with Cu Kα; as many more as the wavelength is longer
}

// preparationKinds are the kinds that a table may name.
var preparationKinds = []string{"abrasive", "polish", "mount", "holder", "mill", "etch"}

// ErrPreparation says that a table of preparation materials cannot be used; test with errors.Is.
var ErrPreparation = errors.New("not a table of preparation materials")

// Preparations returns the table that is compiled in. Sources of lines and haloes: the structures of the starter collection;
// Miller & Hill, J. Sed. Petrol. 34 (1964) 848 for resins, the rest from common practice. The slice is shared; do not change it.
func Preparations() []Preparation { return preparations() }

var preparations = sync.OnceValue(func() []Preparation {
	list, err := ReadPreparations(strings.NewReader(preparationTable), "preparation.csv")
	if err != nil {
		panic("refdata: " + err.Error()) // a test parses it
	}
	return list
})

const preparationColumns = "material,kind,phase,lines,halo_d,halo_width,from,tell,avoid,hazard"

// ReadPreparations reads a table: CSV with the columns material, kind, phase, lines (Å, separated by semicolons), halo_d (Å) and
// halo_width (degrees 2θ with Cu Kα; several separated by semicolons), from, tell, avoid, hazard. What is refused is a *xrd.SyntaxError.
func ReadPreparations(r io.Reader, name string) ([]Preparation, error) {
	text := &io.LimitedReader{R: r, N: maxPreparations}
	c := csv.NewReader(text)
	c.FieldsPerRecord, c.Comment = 10, '#'
	refuse := func(err error, fix string) error {
		line, _ := c.FieldPos(0)
		return &xrd.SyntaxError{File: name, Line: max(1, line), Err: fmt.Errorf("%w: %w", ErrPreparation, err), Fix: fix}
	}
	head, err := c.Read()
	if text.N <= 0 {
		return nil, &xrd.SyntaxError{File: name, Err: fmt.Errorf("%w: longer than %d bytes", ErrPreparation, maxPreparations), Fix: "keep one row a material"}
	}
	if err != nil || strings.TrimPrefix(strings.Join(head, ","), "\ufeff") != preparationColumns {
		return nil, &xrd.SyntaxError{File: name, Line: 1, Err: fmt.Errorf("%w: first row %.200q", ErrPreparation, strings.Join(head, ",")), Fix: "name the columns " + preparationColumns}
	}
	var out []Preparation
	for {
		row, err := c.Read()
		switch {
		case text.N <= 0:
			return nil, refuse(fmt.Errorf("longer than %d bytes", maxPreparations), "keep one row a material")
		case errors.Is(err, io.EOF):
			return out, nil
		case err != nil:
			var syntax *csv.ParseError
			line := 1
			if errors.As(err, &syntax) {
				line = max(1, syntax.StartLine)
			}
			return nil, &xrd.SyntaxError{File: name, Line: line, Err: fmt.Errorf("%w: %w", ErrPreparation, err), Fix: "give ten columns, texts with commas in double quotes"}
		}
		p, err := preparationOf(row)
		if err != nil {
			return nil, refuse(err, "see the columns "+preparationColumns)
		}
		out = append(out, p)
	}
}

// maxPreparations is more than any table of materials needs, bytes.
const maxPreparations = 1 << 20

func preparationOf(row []string) (Preparation, error) {
	for i := range row {
		row[i] = strings.TrimSpace(xrd.Printable(row[i]))
	}
	p := Preparation{Material: row[0], Kind: strings.ToLower(row[1]), Phase: strings.ToLower(row[2]), From: row[6], Tell: row[7], Avoid: row[8], Hazard: row[9]}
	if p.Material == "" || !slices.Contains(preparationKinds, p.Kind) {
		return p, fmt.Errorf("material %q of kind %q; the kinds are %s", row[0], row[1], strings.Join(preparationKinds, ", "))
	}
	var tops, widths []float64
	for _, f := range []struct {
		text, what string
		to         *[]float64
		lo, hi     float64
	}{{row[3], "line", &p.Lines, 0.3, 100}, {row[4], "halo", &tops, 0.3, 100}, {row[5], "width of a halo", &widths, 0.5, 60}} {
		for s := range strings.SplitSeq(f.text, ";") {
			if s == "" {
				continue
			}
			v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
			if err != nil || !(v >= f.lo && v <= f.hi) {
				return p, fmt.Errorf("%s %q; give numbers from %g to %g, separated by semicolons", f.what, s, f.lo, f.hi)
			}
			*f.to = append(*f.to, v)
		}
	}
	if len(tops) != len(widths) {
		return p, errors.New("every halo needs both its spacing and its width")
	}
	for i, d := range tops {
		p.Haloes = append(p.Haloes, Halo{d, widths[i]})
	}
	return p, nil
}

// wordsOf returns the words of a text in lower case, whatever the script.
func wordsOf(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) })
}

// MountOf returns the materials of a table that a description of a mount or holder names: those one of whose words is in it
// ("epoxy", "glass slide", "cold resin (acrylic)"). A mount that is only called resin may be any unfilled one.
func MountOf(table []Preparation, text string) []Preparation {
	words := wordsOf(text)
	var out []Preparation
	for _, p := range table {
		if p.Kind != "mount" && p.Kind != "holder" {
			continue
		}
		name := wordsOf(p.Material) // none of a material that is a number
		named := len(name) > 0 && slices.Contains(words, name[0])
		resin := slices.Contains(words, "resin") && p.Material == "epoxy" && len(words) == 1
		if named || resin {
			out = append(out, p)
		}
	}
	return out
}

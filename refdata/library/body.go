package library

import (
	"bytes"
	"compress/flate"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/listfile"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// A body is everything of one phase, a structure or a list, as a built file keeps it: deflated JSON. The operators of
// structures are shared by many and stand in a table of their own.
type body struct {
	Record   *refdata.Record `json:",omitempty"`
	Cautions []xrd.Caution   `json:",omitempty"`
	List     *listfile.List  `json:",omitempty"`
}

// errBody says that the data of a phase are damaged.
var errBody = fmt.Errorf("%w: the data of the phase", ErrDamaged)

// dictionary is what most bodies have in common, which makes each of them smaller by half. It belongs to the layout of the file:
// with another one, layout must change.
const dictionary = `{"List":{"ID":"","Name":"","Formula":"","SpaceGroup":"","Radiation":null,"Monochromator":"","RIR":{"Value":0,"RelU":0,` +
	`"Origin":"","Basis":"","Radiation":""},"Density":0,"DensityOrigin":"","Cell":null,"Z":0,"MassAbsorption":0,"Preparation":"","Soluble":false,` +
	`"Source":"","Confidence":"","Rows":[{"Line":2,"D":1.,"Intensity":100,"Families":[{"H":1,"K":1,"L":1,"Multiplicity":8,"F2":0}]}],"Notes":null},` +
	`"Cautions":[{"code":"","severity":"caution","text":"","remedy":"","evidence":null}],"Record":{"ID":"","Name":"","Formula":"","SpaceGroup":"",` +
	`"Operators":null,"Cell":{"a":,"b":,"c":,"alpha":90,"beta":90,"gamma":90},"Atoms":[{"Label":"O1","Element":"O","X":0.3333333333333333,"Y":0.25,"Z":0.5,` +
	`"Occupancy":1,"B":0.5},{"Label":"O2","Element":"O","X":0.,"Y":0.,"Z":0.,"Occupancy":1,"B":0.}],"Preparation":"","Soluble":false,"KnownDensity":0,` +
	`"Source":"","Confidence":"","Strong":null}}`

// maxBody bounds what a damaged file can make us inflate.
const maxBody = 64 << 20

// recordOf returns a structure as a record that gives the same structure, and its operators apart.
func recordOf(s *structure.Structure) (r refdata.Record, operators string) {
	r = refdata.Record{ID: s.ID, Name: s.Name, Formula: s.Formula, SpaceGroup: s.SpaceGroup, Cell: s.Cell,
		Preparation: s.Preparation, SolidSolution: s.SolidSolution, Source: s.Source, Confidence: s.Confidence}
	for _, site := range s.Sites {
		r.Atoms = append(r.Atoms, refdata.Atom{Label: site.Label, Element: site.Element.Symbol, X: site.Position[0], Y: site.Position[1],
			Z: site.Position[2], Occupancy: site.Occupancy, B: site.B})
	}
	var ops []string
	for _, op := range s.Operators() {
		ops = append(ops, op.String())
	}
	return r, strings.Join(ops, "; ")
}

// An encoder keeps the deflater, which is large, from one body to the next.
type encoder struct {
	out     bytes.Buffer
	deflate *flate.Writer
}

func newEncoder() *encoder {
	e := &encoder{}
	e.deflate, _ = flate.NewWriterDict(&e.out, flate.DefaultCompression, []byte(dictionary)) // fails for an unknown level only
	return e
}

// encode returns bytes that are good until the next call.
func (e *encoder) encode(b body) ([]byte, error) {
	plain, err := json.Marshal(b)
	if err != nil {
		return nil, err
	}
	e.out.Reset()
	e.deflate.Reset(&e.out)
	_, err = e.deflate.Write(plain)
	err = errors.Join(err, e.deflate.Close())
	return e.out.Bytes(), err
}

func decodeBody(raw []byte, operators string) (body, error) {
	plain, err := io.ReadAll(io.LimitReader(flate.NewReaderDict(bytes.NewReader(raw), []byte(dictionary)), maxBody))
	var b body
	if err == nil {
		err = json.Unmarshal(plain, &b)
	}
	if err != nil || b.Record == nil && b.List == nil {
		return body{}, fmt.Errorf("%w: %w", errBody, err)
	}
	if b.Record != nil && operators != "" {
		b.Record.Operators = strings.Split(operators, "; ")
	}
	return b, nil
}

// phase computes the phase for a beam.
func (b body) phase(beam refdata.Beam) (refdata.Phase, error) {
	if b.List != nil {
		return b.List.Phase(beam)
	}
	s, err := structure.FromRecord(*b.Record)
	if err != nil {
		return refdata.Phase{}, err
	}
	s.Cautions = b.Cautions // those of reading the file, not of reading the record
	return s.Phase(beam)
}

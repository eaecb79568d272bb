package resultfile

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/quantify"
)

// FactorsSchema is the first value of a table of factors, FactorsMark what every one has in it.
const (
	FactorsSchema           = "phasetally.factors/1"
	FactorsMark    FileMark = `schema = "phasetally.factors/`
	mostFactors             = 200     // phases of a table, far beyond any that a person weighs
	mostFactorFile          = 4 << 20 // bytes
	mostIndex               = 99      // Miller index of a texture axis
	mostDeltaB              = 100     // Å²; no displacement parameter is so large
	largestFactor           = 1e6     // a reference intensity ratio is not that wrong
)

// ErrFactorTable says that a file is no table of factors; test with errors.Is.
var ErrFactorTable = errors.New("not a table of factors")

// factorFile is the table as it is written.
type factorFile struct {
	Schema        string          `toml:"schema"`
	Reference     string          `toml:"reference"`
	ReferenceU    float64         `toml:"reference_u"`
	Repeatability float64         `toml:"repeatability"`
	RepeatFreedom float64         `toml:"repeatability_freedom"`
	Radiation     string          `toml:"radiation"`
	Slit          string          `toml:"slit"`
	Geometry      string          `toml:"geometry"`
	Monochromator string          `toml:"monochromator"`
	Preparation   string          `toml:"preparation"`
	Grains        string          `toml:"grains"`
	Mixtures      []string        `toml:"mixtures"`
	Factor        []factorOfPhase `toml:"factor"`
}

type factorOfPhase struct {
	ID         string    `toml:"id"`
	RIR        float64   `toml:"rir"`
	Value      float64   `toml:"value"`
	Scatter    float64   `toml:"scatter"`
	Mixtures   int       `toml:"mixtures"`
	Axis       []int     `toml:"texture_axis,omitempty"`
	DeltaB     *float64  `toml:"delta_b,omitempty"`
	Covariance []float64 `toml:"covariance"`
}

const factorHead = `# Factors of phasetally from weighed mixtures: what reference intensity ratios are multiplied by. Give this file to analyse,
# quantify and series with --factors. The factor of the reference is 1 by definition: only ratios of factors are known.
# reference_u and repeatability are relative standard uncertainties; covariance is that of the logarithms of the factors, in
# the order of the phases here; scatter is what the lines of the mixtures let expect, as a relative standard deviation.
# The factors hold for the tube, the optics and the preparation that stand here. texture_axis is the axis (h, k, l) that the
# texture of a phase is described by, delta_b the change of its displacement parameter B, Å², in the mixtures as in the scans that
# are corrected.
`

// WriteFactors writes a table of factors (TOML) that ReadFactors reads back. Numbers that no table can have are ErrFactorTable.
func WriteFactors(t analysis.FactorTable) ([]byte, error) {
	c := t.Conditions
	f := factorFile{Schema: FactorsSchema, Reference: t.Reference, ReferenceU: t.ReferenceU, Repeatability: t.Repeatability, RepeatFreedom: t.RepeatFreedom,
		Radiation: c.Radiation.Text(), Slit: c.Slit, Geometry: c.Geometry, Monochromator: c.Monochromator, Preparation: c.Preparation, Grains: c.Grains,
		Mixtures: []string{}}
	for _, m := range t.Mixtures {
		f.Mixtures = append(f.Mixtures, m.File)
	}
	for i, x := range t.List {
		f.Factor = append(f.Factor, factorOfPhase{x.ID, x.RIR, x.Value, x.Scatter, x.Mixtures, nil, nil, t.Covariance[i]})
		if axis, ok := t.Axes[x.ID]; ok {
			f.Factor[i].Axis = axis[:]
		}
		if b, ok := t.DeltaB[x.ID]; ok {
			f.Factor[i].DeltaB = &b
		}
	}
	if err := f.check(); err != nil { // nothing is written that is then refused
		return nil, fmt.Errorf("%w: %w; look whether each weighed value stands beside its scan", ErrFactorTable, err)
	}
	var b bytes.Buffer
	b.WriteString(factorHead)
	e := toml.NewEncoder(&b)
	e.Indent = ""
	if err := e.Encode(f); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// ReadFactors reads a table of factors. Input that it refuses is a *xrd.SyntaxError that names the file, and the line where it
// is known.
func ReadFactors(r io.Reader, name string) (analysis.FactorTable, error) {
	t := analysis.FactorTable{File: name}
	refuse := func(line int, err error) (analysis.FactorTable, error) {
		return t, &xrd.SyntaxError{File: name, Line: line, Err: fmt.Errorf("%w: %w", ErrFactorTable, err), Fix: "give the file that phasetally factors wrote"}
	}
	raw, err := io.ReadAll(io.LimitReader(r, mostFactorFile+1))
	switch {
	case err != nil:
		return t, err
	case len(raw) > mostFactorFile:
		return refuse(0, fmt.Errorf("longer than %d bytes", mostFactorFile))
	}
	var f factorFile
	meta, err := toml.Decode(string(raw), &f)
	if at := (toml.ParseError{}); errors.As(err, &at) {
		return refuse(at.Position.Line, errors.New(at.Message))
	}
	switch {
	case err != nil:
		return refuse(0, err)
	case f.Schema != FactorsSchema:
		return refuse(0, fmt.Errorf("schema %q, this version reads %q", f.Schema, FactorsSchema))
	case len(meta.Undecoded()) > 0:
		return refuse(0, fmt.Errorf("unknown key %s", meta.Undecoded()[0]))
	}
	if err := f.check(); err != nil {
		return refuse(0, err)
	}
	sum := sha256.Sum256(raw)
	t.SHA256 = hex.EncodeToString(sum[:])
	c := analysis.Conditions{Slit: f.Slit, Geometry: f.Geometry, Monochromator: f.Monochromator, Preparation: f.Preparation, Grains: f.Grains}
	if c.Radiation, err = xrd.ParseRadiation(f.Radiation); err != nil {
		return refuse(0, err)
	}
	t.Conditions = c
	t.Factors = quantify.Factors{Reference: f.Reference, ReferenceU: f.ReferenceU, Repeatability: f.Repeatability, RepeatFreedom: f.RepeatFreedom}
	for _, m := range f.Mixtures {
		t.Mixtures = append(t.Mixtures, analysis.MixtureRow{File: m})
	}
	t.Axes, t.DeltaB = map[string][3]int{}, map[string]float64{}
	for _, x := range f.Factor {
		t.List = append(t.List, quantify.Factor{ID: x.ID, RIR: x.RIR, Value: x.Value, Scatter: x.Scatter, Mixtures: x.Mixtures})
		t.Covariance = append(t.Covariance, x.Covariance)
		if x.Axis != nil {
			t.Axes[x.ID] = [3]int(x.Axis)
		}
		if x.DeltaB != nil {
			t.DeltaB[x.ID] = *x.DeltaB
		}
	}
	return t, nil
}

// check refuses numbers that cannot be.
func (f factorFile) check() error {
	n := len(f.Factor)
	if n == 0 || n > mostFactors {
		return fmt.Errorf("%d factors; give 1 to %d", n, mostFactors)
	}
	within := func(what string, v, least, most float64) error {
		if !(v >= least && v <= most) {
			return fmt.Errorf("%s: %g lies outside %g to %g", what, v, least, most)
		}
		return nil
	}
	err := errors.Join(within("reference_u", f.ReferenceU, 0, 1), within("repeatability", f.Repeatability, 0, 1),
		within("repeatability_freedom", f.RepeatFreedom, 1, math.MaxFloat64))
	seen, reference := map[string]bool{}, false
	for i, x := range f.Factor {
		id := strings.ToLower(x.ID)
		reference = reference || id == strings.ToLower(f.Reference)
		if x.ID == "" || seen[id] {
			err = errors.Join(err, fmt.Errorf("factor %d: id %q is empty or stands twice", i+1, x.ID))
		}
		seen[id] = true
		if len(x.Covariance) != n {
			return fmt.Errorf("covariance of %s has %d numbers; there are %d factors", x.ID, len(x.Covariance), n)
		}
		if x.Axis != nil && (len(x.Axis) != 3 || slices.Equal(x.Axis, []int{0, 0, 0}) || slices.ContainsFunc(x.Axis, func(h int) bool { return h < -mostIndex || h > mostIndex })) {
			err = errors.Join(err, fmt.Errorf("texture_axis of %s: %v; give h, k, l up to %d", x.ID, x.Axis, mostIndex))
		}
		if x.DeltaB != nil {
			err = errors.Join(err, within("delta_b of "+x.ID, *x.DeltaB, -mostDeltaB, mostDeltaB))
		}
		err = errors.Join(err, within("value of "+x.ID, x.Value, 1/largestFactor, largestFactor), within("rir of "+x.ID, x.RIR, 1/largestFactor, largestFactor),
			within("scatter of "+x.ID, x.Scatter, 0, 10), within("variance of "+x.ID, x.Covariance[i], 0, 100))
		for j, c := range x.Covariance[:i] {
			err = errors.Join(err, within("covariance of "+x.ID+" and "+f.Factor[j].ID, c*c, 0, x.Covariance[i]*f.Factor[j].Covariance[j]*(1+1e-6)))
			if math.Abs(c-f.Factor[j].Covariance[i]) > 1e-9 {
				err = errors.Join(err, fmt.Errorf("covariance of %s and %s is not symmetric", x.ID, f.Factor[j].ID))
			}
		}
	}
	if !reference {
		err = errors.Join(err, fmt.Errorf("the reference %q has no factor", f.Reference))
	}
	if err != nil { // one line
		return errors.New(strings.ReplaceAll(err.Error(), "\n", "; "))
	}
	return nil
}

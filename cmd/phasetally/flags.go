package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// options are the flags that commands share, as typed.
type options struct {
	radiation, monochromator, slit string
	radius, length                 float64
	section, mount, sample         string
	blank, instrument              string
	libraries                      []string
	noStarter                      bool
	elements                       []string
	strict                         bool
	require, phases, exclude       []string
	spike                          string
	crystallinity                  float64
	composition                    string
	span                           string
	masks                          []string
	out                            string
	force                          bool
	format                         string
	quiet                          bool
	jobs                           int
}

// scanFlags adds what describes the scan.
func (o *options) scanFlags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.radiation, "radiation", "", "tube (Cr, Fe, Co, Cu, Mo, Ag) or wavelengths in Å (1.5406 or 1.5406,1.5444); default: what the scan says, else Cu")
	f.StringVar(&o.monochromator, "monochromator", "", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&o.slit, "slit", "", "divergence slit: fixed:DEGREES or automatic:MM")
	f.Float64Var(&o.radius, "radius", 0, "goniometer radius, mm (default 200)")
	f.Float64Var(&o.length, "specimen-length", 0, "length of the specimen along the beam, mm")
	f.StringVar(&o.section, "section", "", "transverse, longitudinal, rolled or powder")
	f.StringVar(&o.mount, "mount", "", "what holds the specimen, for the record")
	f.StringVar(&o.sample, "sample", "", "name of the specimen (default: what the scan says)")
	f.StringVar(&o.instrument, "instrument", "", "instrument file that calibrate wrote")
	f.StringVar(&o.span, "range", "", "use only LO:HI degrees 2θ")
	f.StringArrayVar(&o.masks, "mask", nil, "leave out LO:HI degrees 2θ (repeatable)")
	o.outputFlags(c)
}

// outputFlags adds where results go.
func (o *options) outputFlags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.out, "out", "", "folder for the results")
	f.BoolVar(&o.force, "force", false, "replace an existing result folder")
	f.StringVar(&o.format, "format", "text", "what to print: text, json or csv")
	f.BoolVar(&o.quiet, "quiet", false, "print nothing but errors")
	f.IntVar(&o.jobs, "jobs", 0, "how many cores to use (default 2)")
}

// collectionFlags adds which reference data to use.
func (o *options) collectionFlags(c *cobra.Command) {
	f := c.Flags()
	f.StringArrayVar(&o.libraries, "library", nil, "CIF, list, folder of them or built library to add (repeatable)")
	f.BoolVar(&o.noStarter, "no-starter", false, "do not use the starter collection")
}

// searchFlags adds which phases may be named.
func (o *options) searchFlags(c *cobra.Command) {
	o.collectionFlags(c)
	f := c.Flags()
	f.StringSliceVar(&o.elements, "elements", nil, "elements present, Cu,Sn; O, H, C, N, Cl, S are allowed beside them")
	f.BoolVar(&o.strict, "strict-elements", false, "allow nothing beside --elements")
	f.StringSliceVar(&o.require, "require", nil, "ids of phases that must be part of the answer")
	f.StringSliceVar(&o.exclude, "exclude", nil, "ids of phases that must not")
}

// amountFlags adds what turns intensities into amounts.
func (o *options) amountFlags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.blank, "blank", "", "scan of the mount and holder without specimen, same settings")
	f.StringVar(&o.spike, "spike", "", "standard mixed into the powder, ID=WT in wt% of the spiked powder")
	f.Float64Var(&o.crystallinity, "spike-crystallinity", 1, "mass fraction of the standard that is crystalline")
	f.StringVar(&o.composition, "composition", "", "measured chemistry in wt%, Cu=88,Sn=10±1, to check the phases against")
}

// fill sets the parts of a job that come from flags; the scan is already in it.
func (o *options) fill(job *analysis.Job) error {
	var err error
	if o.span != "" {
		if job.Range, err = parseRange("--range", o.span); err != nil {
			return err
		}
	}
	for _, m := range o.masks {
		r, err := parseRange("--mask", m)
		if err != nil {
			return err
		}
		job.Masks = append(job.Masks, r)
	}
	if job.Filter.Elements, err = parseElements(o.elements); err != nil {
		return err
	}
	job.Filter.Strict, job.Filter.Require, job.Filter.Exclude = o.strict, o.require, o.exclude
	job.Phases, job.Workers = o.phases, o.jobs
	if job.Composition, err = parseComposition(o.composition); err != nil {
		return err
	}
	if o.spike == "" {
		return nil
	}
	id, wt, ok := strings.Cut(o.spike, "=")
	v, err := strconv.ParseFloat(wt, 64)
	if !ok || err != nil || !(v > 0 && v < 100) {
		return fmt.Errorf("--spike %q: give ID=WT with 0 < WT < 100, as in --spike corundum=20", o.spike)
	}
	if !(o.crystallinity > 0 && o.crystallinity <= 1) {
		return fmt.Errorf("--spike-crystallinity %g: give a mass fraction above 0 and up to 1", o.crystallinity)
	}
	job.Spike = &analysis.Spike{ID: id, WeightPercent: v, Crystallinity: o.crystallinity}
	return nil
}

// parseRange understands LO:HI in degrees.
func parseRange(flag, s string) ([2]float64, error) {
	a, b, ok := strings.Cut(s, ":")
	lo, err1 := strconv.ParseFloat(strings.TrimSpace(a), 64)
	hi, err2 := strconv.ParseFloat(strings.TrimSpace(b), 64)
	if !ok || errors.Join(err1, err2) != nil || !(lo < hi) {
		return [2]float64{}, fmt.Errorf("%s %q: give two angles in degrees 2θ, LO:HI, as in %s 20:100", flag, s, flag)
	}
	return [2]float64{lo, hi}, nil
}

func parseElements(symbols []string) (refdata.ElementSet, error) {
	var set refdata.ElementSet
	for _, s := range symbols {
		e, ok := element.Lookup(strings.TrimSpace(s))
		if !ok {
			return set, fmt.Errorf("--elements: %q is no element; give symbols, as in --elements Cu,Sn", s)
		}
		set = set.With(e.Z)
	}
	return set, nil
}

// parseComposition understands Cu=88,Sn=10±1.
func parseComposition(s string) ([]analysis.ElementAmount, error) {
	var out []analysis.ElementAmount
	for part := range strings.SplitSeq(s, ",") {
		if s == "" {
			break
		}
		symbol, amount, ok := strings.Cut(strings.TrimSpace(part), "=")
		value, u, given := strings.Cut(strings.ReplaceAll(amount, "+-", "±"), "±")
		a := analysis.ElementAmount{Symbol: symbol}
		var err1, err2 error
		a.WeightPercent, err1 = strconv.ParseFloat(value, 64)
		if given {
			a.U, err2 = strconv.ParseFloat(u, 64)
		}
		if _, known := element.Lookup(symbol); !ok || !known || errors.Join(err1, err2) != nil || !(a.WeightPercent >= 0 && a.WeightPercent <= 100) || a.U < 0 {
			return nil, fmt.Errorf("--composition %q: give symbols with wt%%, as in --composition Cu=88,Sn=10±1", part)
		}
		out = append(out, a)
	}
	return out, nil
}

// describeInstrument joins flags, scan file and defaults, in this order.
func (o *options) describeInstrument(job *analysis.Job) error {
	about := job.Scan.About
	ins := &job.Instrument
	mono := o.monochromator
	if mono == "" {
		mono = about.Monochromator
	}
	if mono != "" {
		m, err := xrd.ParseMonochromator(mono, job.Radiation)
		if err != nil {
			return err
		}
		ins.Monochromator = m
	}
	switch {
	case o.slit != "":
		s, err := xrd.ParseSlit(o.slit)
		if err != nil {
			return fmt.Errorf("--slit: %w", err)
		}
		ins.Slit = s
	case about.Slit != nil:
		ins.Slit = *about.Slit
	}
	if o.radius < 0 || o.length < 0 {
		return fmt.Errorf("--radius and --specimen-length are lengths in mm: give positive numbers")
	}
	ins.Radius = first(o.radius, about.Radius, ins.Radius)
	job.Specimen = xrd.Specimen{Name: first(o.sample, about.Sample), Length: first(o.length, about.SpecimenLength),
		Section: first(o.section, about.Section), Mount: first(o.mount, about.Mount)}
	return nil
}

// first returns the first value that is set.
func first[T comparable](values ...T) T {
	var zero T
	for _, v := range values {
		if v != zero {
			return v
		}
	}
	return zero
}

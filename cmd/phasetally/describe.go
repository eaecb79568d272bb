package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// longest is the largest length in mm that --radius and --specimen-length accept.
const longest = 10000

// longestName is how many letters of a specimen's name are used: figures and tables have room for no more.
const longestName = 200

// short cuts what a scan says of its specimen.
func short(name string) string {
	if letters := []rune(name); len(letters) > longestName {
		return string(letters[:longestName-1]) + "…"
	}
	return name
}

// leastRadius and longestRadius are what an instrument file takes, mm.
const leastRadius, longestRadius = 10, 2000

// sections are the ways a specimen can be cut from its piece.
var sections = []string{"transverse", "longitudinal", "rolled", "powder"}

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
	switch {
	case o.geometry != "":
		g, err := xrd.ParseGeometry(o.geometry)
		if err != nil {
			return fmt.Errorf("--geometry: %w", err)
		}
		ins.Geometry = g
	case about.Geometry != nil:
		ins.Geometry = *about.Geometry
	}
	if ins.Geometry == xrd.Transmission && (o.kStandard != "" || o.kFactor != "" || len(o.grains) > 0 || len(o.intercepts) > 0 || o.thickness > 0) {
		return errors.New("--geometry transmission: --k-standard, --k-factor, --grain, --intercept and --thickness hold for reflection from a thick specimen only; leave them out")
	}
	for name, mm := range map[string]float64{"radius": o.radius, "specimen-length": o.length} {
		if !(mm >= 0 && mm <= longest) {
			return fmt.Errorf("--%s %g: give a length in mm, above 0 and up to %d", name, mm, longest)
		}
	}
	if utf8.RuneCountInString(o.sample) > longestName {
		return fmt.Errorf("--sample has %d letters; give a name of at most %d", utf8.RuneCountInString(o.sample), longestName)
	}
	if o.section != "" && !slices.Contains(sections, o.section) {
		return fmt.Errorf("--section %q: give %s", o.section, strings.Join(sections, ", "))
	}
	if o.radius != 0 && !(o.radius >= leastRadius && o.radius <= longestRadius) {
		return fmt.Errorf("--radius %g: give the radius of the goniometer in mm, %d to %d", o.radius, leastRadius, longestRadius)
	}
	ins.Radius = first(o.radius, about.Radius, ins.Radius)
	job.Specimen = xrd.Specimen{Name: first(o.sample, short(about.Sample)), Length: first(o.length, about.SpecimenLength),
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

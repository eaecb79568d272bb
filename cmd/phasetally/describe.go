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
	var wrong troubles
	about := job.Scan.About
	ins := &job.Instrument
	wrong.note(o.describeOptics(about, job.Radiation, ins))
	if ins.Geometry == xrd.Transmission && (o.kStandard != "" || o.kFactor != "" || len(o.grains) > 0 || len(o.intercepts) > 0 || o.thickness > 0) {
		wrong.note(errors.New("--geometry transmission: --k-standard, --k-factor, --grain, --intercept and --thickness hold for reflection from a thick specimen only; leave them out"))
	}
	wrong.note(o.checkLengths())
	if utf8.RuneCountInString(o.sample) > longestName {
		wrong.note(fmt.Errorf("--sample has %d letters; give a name of at most %d", utf8.RuneCountInString(o.sample), longestName))
	}
	if o.section != "" && !slices.Contains(sections, o.section) {
		wrong.note(fmt.Errorf("--section %q: give %s", o.section, strings.Join(sections, ", ")))
	}
	ins.Radius = first(o.radius, about.Radius, ins.Radius)
	job.Specimen = xrd.Specimen{Name: first(o.sample, short(about.Sample)), Length: first(o.length, about.SpecimenLength),
		Section: first(o.section, about.Section), Mount: first(o.mount, about.Mount)}
	return wrong.err()
}

// describeOptics sets monochromator, slit and geometry.
func (o *options) describeOptics(about xrd.ScanInfo, r xrd.Radiation, ins *xrd.Instrument) error {
	var wrong troubles
	if mono := first(o.monochromator, about.Monochromator); mono != "" && r.KAlpha1 > 0 {
		m, err := xrd.ParseMonochromator(mono, r)
		wrong.note(err)
		ins.Monochromator = m
	}
	switch {
	case o.slit != "":
		s, err := xrd.ParseSlit(o.slit)
		if err != nil {
			wrong.note(fmt.Errorf("--slit: %w", err))
		}
		ins.Slit = s
	case about.Slit != nil:
		ins.Slit = *about.Slit
	}
	switch {
	case o.geometry != "":
		g, err := xrd.ParseGeometry(o.geometry)
		if err != nil {
			wrong.note(fmt.Errorf("--geometry: %w", err))
		}
		ins.Geometry = g
	case about.Geometry != nil:
		ins.Geometry = *about.Geometry
	}
	return wrong.err()
}

// checkLengths refuses a radius and a length of the specimen that cannot be meant.
func (o *options) checkLengths() error {
	var wrong troubles
	if !(o.length >= 0 && o.length <= longest) {
		wrong.note(fmt.Errorf("--specimen-length %g: give a length in mm, above 0 and up to %d", o.length, longest))
	}
	if o.radius != 0 && !(o.radius >= leastRadius && o.radius <= longestRadius) {
		wrong.note(fmt.Errorf("--radius %g: give the radius of the goniometer in mm, %d to %d", o.radius, leastRadius, longestRadius))
	}
	return wrong.err()
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

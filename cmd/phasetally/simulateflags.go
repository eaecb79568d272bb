package main

import (
	"errors"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"phasetally/xrd/analysis"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/simulate"
)

// diffractometer is what the flags say of tube and instrument, without a scan.
func (o *options) diffractometer() (j analysis.Job, err error) {
	if err = o.chooseRadiation(&j); err != nil {
		return j, err
	}
	if j.Instrument, err = o.loadInstrument(); err != nil {
		return j, err
	}
	return j, o.describeInstrument(&j)
}

// simulated looks at the flags, and fills the job from them.
func (o *options) simulated(c *cobra.Command, s *simulation) error {
	var wrong troubles
	wrong.note(o.checkOut(resultfile.SimulationMark))
	j, err := o.diffractometer()
	wrong.note(err)
	s.job.Radiation, s.job.Instrument, s.job.Specimen = j.Radiation, j.Instrument, j.Specimen
	span, err := parseRange("--range", o.span)
	wrong.note(err)
	s.job.Lo, s.job.Hi = span[0], span[1]
	if s.job.Intercept, err = strconv.ParseFloat(s.intercept, 64); err != nil {
		wrong.note(fmt.Errorf("--intercept %q: give µm, 0 for fine grains or inf for coarse ones", s.intercept))
	}
	if s.job.Intercept > 0 && (o.section == "powder" || s.job.Grain > 0) {
		wrong.note(errors.New("--intercept: an intercept is that of a section and the specimen is a powder; give --grain alone, or another --section"))
	}
	for _, h := range s.haloes {
		v, err := parseNumbers("--halo", h, ":", 3, "D:WIDTH:HEIGHT, as in --halo 4.75:7.5:60")
		if wrong.note(err); err == nil {
			s.job.Haloes = append(s.job.Haloes, simulate.Halo{D: v[0], Width: v[1], Height: v[2]})
		}
	}
	ids, weights, err := o.mixture()
	if wrong.note(err); len(wrong) > 0 {
		return wrong.err()
	}
	if s.job.Components, err = o.components(c, ids, weights, j); err != nil {
		return err
	}
	return s.perPhase()
}

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

// simulationFlags are the flags of simulate.
func (o *options) simulationFlags(c *cobra.Command, s *simulation) {
	f := c.Flags()
	f.StringArrayVar(&o.phases, "phase", nil, "phase and its wt%, ID=WT (repeatable)")
	f.StringVar(&o.radiation, "radiation", "Cu", "tube (Cr, Fe, Co, Cu, Mo, Ag) or wavelengths in Å")
	f.StringVar(&o.monochromator, "monochromator", "", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&o.slit, "slit", "", "divergence slit: fixed:DEGREES or automatic:MM")
	f.Float64Var(&o.radius, "radius", 0, "goniometer radius, mm (default 200)")
	f.Float64Var(&o.length, "specimen-length", 0, "length of the specimen along the beam, mm (default: longer than the beam)")
	f.StringVar(&o.section, "section", "", "transverse, longitudinal, rolled or powder, for the record")
	f.StringVar(&o.mount, "mount", "", "what holds the specimen, for the record; see --halo")
	f.StringVar(&o.sample, "sample", "", "name of the specimen")
	f.StringVar(&o.instrument, "instrument", "", "instrument file that calibrate wrote")
	o.collectionFlags(c)
	f.StringVar(&o.span, "range", "20:100", "LO:HI degrees 2θ")
	f.Float64Var(&s.job.Step, "step", s.job.Step, "degrees 2θ")
	f.Float64Var(&s.job.Time, "time", s.job.Time, "s per step")
	f.Float64Var(&s.job.Rate, "rate", s.job.Rate, "counts/s at the top of corundum 113, pure, on this diffractometer")
	f.Float64Var(&s.job.Background, "background", s.job.Background, "counts/s")
	f.Float64Var(&s.job.Air, "air", 0, "counts/s that scattering by air adds at 5°")
	f.StringArrayVar(&s.haloes, "halo", nil, "broad hump D:WIDTH:HEIGHT in Å, degrees 2θ with Cu Kα and counts/s (repeatable)")
	f.Float64Var(&s.job.Displacement, "displacement", 0, "of the surface below the focusing plane, mm")
	f.StringArrayVar(&s.sizes, "size", nil, "crystallite size ID=NM (repeatable)")
	f.StringArrayVar(&s.strains, "strain", nil, "microstrain ID=E, as in copper=0.001 (repeatable)")
	f.StringArrayVar(&s.textures, "texture", nil, "March–Dollase texture ID=H,K,L:R; R below 1: plates (repeatable)")
	f.StringArrayVar(&s.stretches, "stretch", nil, "relative growth of the cell ID=E (repeatable)")
	f.Float64Var(&s.job.KBeta, "k-beta", 0, "intensity of Kβ over that of Kα")
	f.Float64Var(&s.job.WLAlpha, "w-l-alpha", 0, "intensity of W Lα of an old tube over that of Kα")
	f.Float64Var(&s.job.EdgeStep, "edge-step", 0, "white radiation beside every line down to the filter's edge, per degree at 40°, over the area of the line")
	f.StringVar(&s.intercept, "intercept", "0", "mean intercept of the grains of a polished section, µm: 0 fine, inf coarse")
	f.Float64Var(&s.job.Grain, "grain", 0, "diameter of the grains of a powder, µm, for the absorption in them: 0 fine")
	f.Float64Var(&s.job.LineScatter, "few-grains", 0, "relative scatter of the lines that few grains cause, as in 0.2")
	f.Uint64Var(&s.job.Seed, "seed", 1, "of the random numbers: the same gives the same scan")
	f.BoolVar(&s.quiet, "no-noise", false, "expected counts instead of counted ones")
	f.StringVar(&o.out, "out", "", "scan file to write (default: standard output)")
	f.BoolVar(&o.force, "force", false, "replace an existing file")
}

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

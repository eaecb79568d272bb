package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
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

// simulated fills the job from the flags.
func (o *options) simulated(c *cobra.Command, s *simulation) error {
	j, err := o.diffractometer()
	if err != nil {
		return err
	}
	s.job.Radiation, s.job.Instrument, s.job.Specimen = j.Radiation, j.Instrument, j.Specimen
	span, err := parseRange("--range", o.span)
	if err != nil {
		return err
	}
	s.job.Lo, s.job.Hi = span[0], span[1]
	if s.job.Intercept, err = strconv.ParseFloat(s.intercept, 64); err != nil {
		return fmt.Errorf("--intercept %q: give µm, 0 for fine grains or inf for coarse ones", s.intercept)
	}
	for _, h := range s.haloes {
		v, err := parseNumbers("--halo", h, ":", 3, "D:WIDTH:HEIGHT, as in --halo 4.75:7.5:60")
		if err != nil {
			return err
		}
		s.job.Haloes = append(s.job.Haloes, simulate.Halo{D: v[0], Width: v[1], Height: v[2]})
	}
	if s.job.Components, err = o.components(c); err != nil {
		return err
	}
	return s.perPhase()
}

// components looks up the phases with their fractions.
func (o *options) components(c *cobra.Command) ([]simulate.Component, error) {
	named, weights, err := o.mixture()
	if err != nil {
		return nil, err
	}
	lookup := options{libraries: o.libraries, noStarter: o.noStarter, phases: named}
	lib, err := lookup.loadCollection(c.Context(), nil, c.ErrOrStderr())
	if err != nil {
		return nil, err
	}
	defer lib.Close()
	r, err := xrd.ParseRadiation(o.radiation)
	if err != nil {
		return nil, fmt.Errorf("--radiation: %w", err)
	}
	mono, err := xrd.ParseMonochromator(o.monochromator, r)
	if err != nil {
		return nil, fmt.Errorf("--monochromator: %w", err)
	}
	var out []simulate.Component
	for i, id := range named {
		p, err := phaseOf(lib, id, refdata.Beam{Radiation: r, Monochromator: mono, MaxTwoTheta: 165})
		if err != nil {
			return nil, err
		}
		out = append(out, simulate.Component{Phase: p, WeightPercent: weights[i]})
	}
	return out, nil
}

func phaseOf(lib *library.Library, id string, beam refdata.Beam) (refdata.Phase, error) {
	i, err := lib.Lookup(id)
	if err != nil {
		return refdata.Phase{}, err
	}
	return lib.Phase(i, beam)
}

// mixture splits ID=WT.
func (o *options) mixture() (ids []string, weights []float64, err error) {
	for _, s := range o.phases {
		id, wt, _ := strings.Cut(s, "=")
		v, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(wt), "%"), 64)
		if err != nil || !(v >= 0 && v <= 100) {
			return nil, nil, fmt.Errorf("--phase %q: give ID=WT with wt%% from 0 to 100, as in --phase copper=80", s)
		}
		ids, weights = append(ids, strings.TrimSpace(id)), append(weights, v)
	}
	if len(ids) == 0 {
		return nil, nil, fmt.Errorf("--phase is missing: give ID=WT, as in --phase copper=80 --phase quartz=20")
	}
	return ids, weights, nil
}

// perPhase sets what is given of single phases.
func (s *simulation) perPhase() error {
	one := func(flag string, list []string, example string, set func(c *simulate.Component, value string) error) error {
		for _, text := range list {
			id, value, _ := strings.Cut(text, "=")
			found := false
			for i := range s.job.Components {
				if c := &s.job.Components[i]; strings.EqualFold(c.Phase.ID, strings.TrimSpace(id)) {
					found = true
					if err := set(c, value); err != nil {
						return fmt.Errorf("%s %q: give %s", flag, text, example)
					}
				}
			}
			if !found {
				return fmt.Errorf("%s %q: no --phase has the id %q", flag, text, id)
			}
		}
		return nil
	}
	number := func(field func(c *simulate.Component) *float64) func(*simulate.Component, string) error {
		return func(c *simulate.Component, v string) (err error) {
			*field(c), err = strconv.ParseFloat(v, 64)
			return err
		}
	}
	for _, f := range []struct {
		flag    string
		list    []string
		example string
		set     func(*simulate.Component, string) error
	}{
		{"--size", s.sizes, "ID=NM, as in copper=40", number(func(c *simulate.Component) *float64 { return &c.SizeNM })},
		{"--strain", s.strains, "ID=E, as in copper=0.001", number(func(c *simulate.Component) *float64 { return &c.Strain })},
		{"--stretch", s.stretches, "ID=E, as in copper=0.004", number(func(c *simulate.Component) *float64 { return &c.Stretch })},
		{"--texture", s.textures, "ID=H,K,L:R, as in copper=1,1,1:0.6", setTexture},
	} {
		if err := one(f.flag, f.list, f.example, f.set); err != nil {
			return err
		}
	}
	return nil
}

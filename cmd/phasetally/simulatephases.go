package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
	"phasetally/xrd/simulate"
)

// components looks up the phases with their fractions.
func (o *options) components(c *cobra.Command, named []string, weights []float64, j analysis.Job) ([]simulate.Component, error) {
	lookup := options{libraries: o.libraries, noStarter: o.noStarter, phases: named}
	lib, err := lookup.loadCollection(c.Context(), nil, c.ErrOrStderr())
	if err != nil {
		return nil, err
	}
	defer lib.Close()
	var out []simulate.Component
	for i, id := range named {
		p, err := phaseOf(lib, id, refdata.Beam{Radiation: j.Radiation, Monochromator: j.Instrument.Monochromator, MaxTwoTheta: 165})
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
	var wrong troubles
	one := func(flag string, list []string, example string, set func(c *simulate.Component, value string) error) {
		for _, text := range list {
			id, value, _ := strings.Cut(text, "=")
			found := false
			for i := range s.job.Components {
				if c := &s.job.Components[i]; strings.EqualFold(c.Phase.ID, strings.TrimSpace(id)) {
					found = true
					if err := set(c, value); err != nil {
						wrong.note(fmt.Errorf("%s %q: give %s", flag, text, example))
					}
				}
			}
			if !found {
				wrong.note(fmt.Errorf("%s %q: no --phase has the id %q", flag, text, id))
			}
		}
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
		one(f.flag, f.list, f.example, f.set)
	}
	return wrong.err()
}

package main

import (
	"fmt"
	"strconv"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/simulate"
)

// parseNumbers splits n numbers.
func parseNumbers(flag, text, separator string, n int, example string) ([]float64, error) {
	parts := strings.Split(text, separator)
	out := make([]float64, len(parts))
	for i, p := range parts {
		v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || len(parts) != n {
			return nil, fmt.Errorf("%s %q: give %s", flag, text, example)
		}
		out[i] = v
	}
	return out, nil
}

// setTexture understands H,K,L:R.
func setTexture(c *simulate.Component, text string) error {
	pole, r, _ := strings.Cut(text, ":")
	for i, s := range strings.Split(pole, ",") {
		h, err := strconv.Atoi(strings.TrimSpace(s))
		if err != nil || i > 2 {
			return fmt.Errorf("pole %q", pole)
		}
		c.Pole[i] = h
	}
	var err error
	if c.March, err = strconv.ParseFloat(r, 64); err == nil && (c.Pole == [3]int{} || c.March == 0) {
		err = fmt.Errorf("pole %q, r %q", pole, r)
	}
	return err
}

// about describes the scan as its header does.
func (s *simulation) about(o *options) xrd.ScanInfo {
	j := s.job
	a := xrd.ScanInfo{Sample: o.sample, Radiation: &j.Radiation, Radius: j.Instrument.Radius, SpecimenLength: o.length, CountingTime: j.Time,
		Section: o.section, Mount: o.mount, Simulated: s.words()}
	if j.Instrument.Monochromator.Kind != xrd.NoMonochromator {
		a.Monochromator = j.Instrument.Monochromator.String()
	}
	if j.Instrument.Slit != (xrd.Slit{}) {
		a.Slit = &j.Instrument.Slit
	}
	return a
}

// words says from what a scan was calculated: the mixture, then every departure from the ideal.
func (s *simulation) words() string {
	j := s.job
	var parts []string
	for _, c := range j.Components {
		parts = append(parts, fmt.Sprintf("%s %g", c.Phase.ID, c.WeightPercent))
	}
	out := []string{"not measured", strings.Join(parts, ", ") + " wt%", fmt.Sprintf("rate %g/s, background %g/s", j.Rate, j.Background)}
	for _, list := range []struct {
		name   string
		values []string
	}{{"size", s.sizes}, {"strain", s.strains}, {"texture", s.textures}, {"stretch", s.stretches}, {"halo", s.haloes}} {
		for _, v := range list.values {
			out = append(out, list.name+" "+v)
		}
	}
	for _, n := range []struct {
		name  string
		value float64
	}{{"air", j.Air}, {"displacement mm", j.Displacement}, {"Kβ", j.KBeta}, {"W Lα", j.WLAlpha}, {"edge step", j.EdgeStep},
		{"grain µm", j.Grain}, {"intercept µm", j.Intercept}, {"few grains", j.LineScatter}} {
		if n.value != 0 {
			out = append(out, fmt.Sprintf("%s %g", n.name, n.value))
		}
	}
	if s.quiet {
		return strings.Join(append(out, "no noise"), "; ")
	}
	return strings.Join(append(out, "seed "+strconv.FormatUint(j.Seed, 10)), "; ")
}

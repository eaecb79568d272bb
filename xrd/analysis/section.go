package analysis

import (
	"errors"
	"fmt"
	"strings"

	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// ErrMicrograph says that what was measured on a micrograph does not go with the specimen; test with errors.Is.
var ErrMicrograph = errors.New("micrograph and specimen do not go together")

// areaSlack is how much more than 100 % of a section areas may take together, for their rounding.
const areaSlack = 0.5

// checkMicrograph refuses intercepts of a powder, and areas that cannot be.
func (j Job) checkMicrograph() error {
	if j.Specimen.Section == "powder" && len(j.Intercepts) > 0 {
		return fmt.Errorf("%w: an intercept is that of a section and the specimen is a powder; give --grain, or say --section", ErrMicrograph)
	}
	if j.Specimen.Section == "powder" && len(j.Areas) > 0 {
		return fmt.Errorf("%w: areas are those of a section and the specimen is a powder; leave --area out, or say --section", ErrMicrograph)
	}
	if j.Spread.CV2 > 0 && len(j.Intercepts) == 0 {
		return fmt.Errorf("%w: --intercept-cv2 tells how much intercepts differ; state their mean, too, with --intercept", ErrMicrograph)
	}
	var sum float64
	seen := map[string]bool{}
	for _, a := range j.Areas {
		id := strings.ToLower(a.ID)
		if seen[id] {
			return fmt.Errorf("%w: two areas for %s; give one", ErrMicrograph, a.ID)
		}
		seen[id] = true
		sum += a.Percent
	}
	if !(sum <= 100+areaSlack) {
		return fmt.Errorf("%w: the areas sum to %.4g %%; they cannot take more than 100 %% of the section", ErrMicrograph, sum)
	}
	for _, x := range j.Intercepts {
		if x.ID == "" {
			continue
		}
		if _, err := Find(j.Collection, x.ID); err != nil {
			return err
		}
	}
	for _, a := range j.Areas {
		if _, err := Find(j.Collection, a.ID); err != nil {
			return err
		}
	}
	return nil
}

// isSection reports whether the specimen is stated to be a section: cut in some way, or with intercepts or areas.
func (j Job) isSection() bool {
	return j.Specimen.Section != "" && j.Specimen.Section != "powder" || len(j.Intercepts) > 0 || len(j.Areas) > 0
}

// isPowder reports whether the specimen is stated to be a powder: in a word, by the size of its grains or by what was mixed into it.
func (j Job) isPowder() bool {
	return j.Specimen.Section == "powder" || !j.isSection() && (len(j.Grains) > 0 || j.Spike != nil)
}

// sectionOf returns what is known of the regions of what is, or may be, a section; nil for a powder.
func sectionOf(j Job, matches []identify.Match) *quantify.Section {
	if j.isPowder() {
		return nil
	}
	if !j.isSection() {
		return &quantify.Section{Perhaps: true}
	}
	s := &quantify.Section{CV2: j.Spread.CV2, CV2U: j.Spread.U}
	for _, x := range j.Intercepts {
		if x.ID == "" {
			s.Common, s.CommonU = x.Micron, x.U/x.Micron
			continue
		}
		for i, m := range matches {
			if !strings.EqualFold(m.Phase.ID, x.ID) {
				continue
			}
			if s.Intercept == nil {
				s.Intercept, s.InterceptU = make([]float64, len(matches)), make([]float64, len(matches))
			}
			s.Intercept[i], s.InterceptU[i] = x.Micron, x.U/x.Micron
		}
	}
	return s
}

// spread is the spread of the intercepts as the document tells it; nil when nobody stated it.
func (j Job) spread() *result.InterceptSpread {
	if !(j.Spread.CV2 > 0) {
		return nil
	}
	return &result.InterceptSpread{CV2: j.Spread.CV2, U: j.Spread.U}
}

// lengths are the intercepts as the document tells them.
func (j Job) lengths() []result.Length {
	out := []result.Length{}
	for _, x := range j.Intercepts {
		out = append(out, result.Length{ID: x.ID, Micron: x.Micron, U: x.U})
	}
	return out
}

// compareAreas sets the areas of a micrograph beside the answer; an area of a phase that is not found is an error.
func (m *measured) compareAreas() error {
	var areas []quantify.Area
	for _, a := range m.job.Areas {
		k := m.matchOf(a.ID)
		if k < 0 || m.Roles[k] == quantify.Absent {
			return fmt.Errorf("%w: --area %s: the scan does not show this phase; leave it out, or look at what the image shows there", ErrMicrograph, a.ID)
		}
		areas = append(areas, quantify.Area{Phase: k, Percent: a.Percent, U: a.U})
	}
	if c, ok := quantify.Compare(m.input, m.Answer, areas); ok {
		m.Areas, m.Image = areas, &c
	}
	return nil
}

// micrograph tells the comparison of areas with diffraction; nil without areas.
func (m measured) micrograph() *result.Micrograph {
	if m.Image == nil {
		return nil
	}
	c := m.Image
	out := &result.Micrograph{Phases: []result.AreaOf{}, ChiSquare: result.Number(c.ChiSquare), Freedom: c.Freedom, P: result.Number(c.P), Agree: c.Agree()}
	for _, i := range m.order {
		if m.Roles[i] != quantify.Specimen {
			continue
		}
		v, w := c.Volume[i], c.Weight[i]
		a := result.AreaOf{ID: m.identified.Matches[i].Phase.ID, VolumePercent: result.Number(m.Answer.Fractions[i].Volume.Percent), VolumeU: result.Number(c.VolumeU[i]), Z: result.Number(c.Z[i]),
			CombinedVolume: result.Number(v.Percent), CombinedVolumeLo: result.Number(v.Lo), CombinedVolumeHi: result.Number(v.Hi),
			CombinedWeight: result.Number(w.Percent), CombinedWeightLo: result.Number(w.Lo), CombinedWeightHi: result.Number(w.Hi)}
		for _, x := range m.job.Areas {
			if strings.EqualFold(x.ID, a.ID) {
				a.AreaPercent, a.AreaU = result.Number(x.Percent), result.Number(x.U)
			}
		}
		out.Phases = append(out.Phases, a)
	}
	return out
}

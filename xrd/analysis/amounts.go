package analysis

import (
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// ownAbove is the weight fraction, per cent of everything found, above which a phase of the preparation watch-list
// counts as the specimen's own.
const ownAbove = 5.0

// amounts are the fractions with what they were computed from.
type amounts struct {
	diagnose.Amounts
	input quantify.Input
	order []int                // matches in the order of the document
	same  *result.SameSpecimen // what each of several scans says alone; nil for one scan
}

// share decides which phases are the specimen's and computes the fractions.
func share(p prepared, e explanation, constant *quantify.External) amounts {
	a := amounts{Amounts: diagnose.Amounts{Constant: constant}}
	matches := e.identified.Matches
	if len(matches) == 0 {
		return a
	}
	a.Grain = grains(p.job.Grains, matches)
	in := quantify.Input{Fit: e.identified.Fit, Roles: make([]quantify.Role, len(matches)), Threshold: e.identified.Threshold,
		Unexplained: unexplainedMass(e, p.found.Peaks), Grain: a.Grain, External: constant, Optics: e.slitShift, Along: p.job.Specimen.Section == "longitudinal", Refused: make([]bool, len(matches)), Hidden: make([]bool, len(matches))}
	in.Section = sectionOf(p.job, matches)
	if t := p.job.Factors; t != nil {
		in.Corrected = &t.Factors
	}
	in.Rivals = rivals(p, matches)
	a.Planes = make([]*[3]int, len(matches))
	for i, m := range matches {
		in.Hidden[i] = m.Evidence == result.Tentative && !m.Required && diagnose.OwnSeen(m.Lines) == 0
		if pole, ok := diagnose.Oriented(m.Lines, m.Phase); ok {
			a.Planes[i], in.Refused[i] = &pole, true
		}
		switch {
		case m.Evidence != result.Named && p.job.spiked(m.Phase.ID):
			in.Roles[i] = quantify.Standard
			s := p.job.Spike
			in.Spike = &quantify.Spike{Phase: i, WeightPercent: s.WeightPercent, Crystallinity: s.Crystallinity, CrystallinityU: s.CrystallinityU}
		case m.Evidence == result.Named:
			in.Roles[i] = quantify.Absent
		}
	}
	a.Answer = quantify.Run(in)
	if roles := withArtefacts(p.job, matches, in.Roles, a.Answer); !slices.Equal(roles, in.Roles) {
		in.Roles, a.Belonging = roles, a.Answer.Fractions
		a.Answer = quantify.Run(in)
	}
	a.input, a.Roles = in, in.Roles
	a.Counted = make([]bool, len(matches))
	for i, m := range matches {
		a.Counted[i] = in.Roles[i] == quantify.Specimen && m.Phase.Preparation != "" && !p.job.owns(m)
	}
	return a
}

// rivals are the phases that explain the lines of matches about as well; nil for none.
func rivals(p prepared, matches []identify.Match) [][]refdata.Phase {
	var out [][]refdata.Phase
	for i, m := range matches {
		for _, alternative := range m.Alternatives {
			phase, err := p.job.Collection.Phase(alternative.Index, p.beam)
			if err != nil {
				continue
			}
			if out == nil {
				out = make([][]refdata.Phase, len(matches))
			}
			out[i] = append(out[i], phase)
		}
	}
	return out
}

// withArtefacts returns the roles with phases that were set aside, small amounts of the watch-list, and any amount of what is on
// it and beyond the stated elements, as artefacts of preparation, unless nothing else is there: then they are what was scanned. Nobody
// polishes, etches or embeds a powder: small amounts of what only that leaves are the powder's own.
func withArtefacts(job Job, matches []identify.Match, roles []quantify.Role, answer quantify.Answer) []quantify.Role {
	out := slices.Clone(roles)
	for i, m := range matches {
		if out[i] == quantify.Specimen && holds(job.Aside, m.Phase.ID) {
			out[i] = quantify.Preparation
			continue
		}
		small := !(answer.Fractions[i].Weight.Percent > ownAbove) && (!job.isPowder() || job.millOrHolder(m.Phase.ID))
		if out[i] == quantify.Specimen && m.Phase.Preparation != "" && !job.owns(m) && (small || m.Outside) {
			out[i] = quantify.Preparation
		}
	}
	if slices.Contains(out, quantify.Specimen) {
		return out
	}
	for i, role := range out {
		if role == quantify.Preparation {
			out[i] = quantify.Specimen
		}
	}
	return out
}

// millOrHolder reports whether a mill, a mortar or the holder may bring a phase.
func (j Job) millOrHolder(id string) bool {
	return slices.ContainsFunc(slices.Concat(j.Preparations, refdata.Preparations()), func(p refdata.Preparation) bool {
		return strings.EqualFold(p.Phase, id) && (p.Kind == "mill" || p.Kind == "holder")
	})
}

// owns reports whether the user claimed a phase of the watch-list: by name, by its elements or in a library of theirs.
func (j Job) owns(m identify.Match) bool {
	id := strings.ToLower(m.Phase.ID)
	if m.Required && (!j.Searched || holds(j.Filter.Require, id)) || j.Filter.Own[id] {
		return true
	}
	given := j.Filter.Elements
	i, err := Find(j.Collection, m.Phase.ID) // indices of matches are those of the phases that were asked for
	return err == nil && given != (refdata.ElementSet{}) && j.Collection.Entry(i).Elements.Within(given)
}

// grains returns the given diameter for every match, nil when none is given.
func grains(given []Grain, matches []identify.Match) []float64 {
	if len(given) == 0 {
		return nil
	}
	out := make([]float64, len(matches))
	for i, m := range matches {
		out[i] = grainOf(given, m.Phase.ID)
	}
	return out
}

// grainOf returns the given diameter for a phase, µm, 0 for none.
func grainOf(given []Grain, id string) (diameter float64) {
	for _, g := range given {
		if strings.EqualFold(g.ID, id) || g.ID == "" && diameter == 0 {
			diameter = g.Diameter
		}
	}
	return diameter
}

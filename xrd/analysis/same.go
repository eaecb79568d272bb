package analysis

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// ErrOneScan says that scans cannot be taken together; test with errors.Is.
var ErrOneScan = errors.New("scans that cannot be taken together")

// RunSame quantifies several scans of one specimen, sections at right angles or replicates after mounting anew, as one: one
// set of fractions, with textures, cells, displacement and background of each scan its own. Each job must name the same
// phases. The first result holds the joint answer with all cautions; the others hold that of their scan alone.
func RunSame(ctx context.Context, jobs []Job) ([]result.Analysis, error) {
	if len(jobs) < 2 || len(jobs[0].Phases) == 0 {
		return nil, fmt.Errorf("%w: two scans and the names of the phases are needed", ErrOneScan)
	}
	scans, err := measureAll(ctx, jobs)
	if err != nil {
		return nil, err
	}
	out := make([]result.Analysis, len(scans))
	for i, m := range scans {
		if i == 0 && len(m.Roles) > 0 {
			m.amounts = join(m, scans[1:])
			m.job.Areas = jobs[0].Areas
			if err := errors.Join(m.job.checkMicrograph(), m.compareAreas()); err != nil {
				return nil, err
			}
		}
		out[i] = m.finish()
	}
	out[0].Document.Cautions = adopt(out)
	return out, ctx.Err()
}

// measureAll measures every scan with the phases that some scan shows.
func measureAll(ctx context.Context, jobs []Job) ([]measured, error) {
	jobs, err := uncrowded(ctx, slices.Clone(jobs))
	if err != nil {
		return nil, err
	}
	for {
		scans := make([]measured, len(jobs))
		for i, j := range jobs {
			if i > 0 {
				j.External = nil // the constant is that of the first scan
			}
			j.Areas = nil // are compared with the joint answer
			j.keepUnseen = true
			var err error
			if scans[i], err = measure(ctx, j, given{}); err != nil {
				return nil, fmt.Errorf("%s: %w", j.File, err)
			}
		}
		unseen, fewer := unseenInAll(scans), false
		for i := range jobs {
			jobs[i], fewer = jobs[i].without(unseen)
		}
		if !fewer {
			return scans, nil
		}
	}
}

// unseenInAll returns the ids of the phases that were named and no scan shows.
func unseenInAll(scans []measured) []string {
	var ids []string
	for i, m := range scans {
		if m.identified == nil {
			return nil
		}
		not := m.notThere()
		if i == 0 {
			ids = not
		}
		ids = slices.DeleteFunc(ids, func(id string) bool { return !holds(not, id) })
	}
	return ids
}

// join returns the amounts of a scan with the answer of all.
func join(first measured, others []measured) amounts {
	a := first.amounts
	a.input.Roles = slices.Clone(a.Roles)
	for _, o := range others {
		if o.identified.Fit == nil || len(o.Roles) == 0 || o.cover.Verdict == result.None || o.decided.Tube != nil {
			continue
		}
		a.input.More = append(a.input.More, quantify.Scan{Fit: o.identified.Fit, Unexplained: o.input.Unexplained, Optics: o.input.Optics, Along: o.input.Along})
		for i, m := range o.identified.Matches { // seen in one scan is seen
			k := first.matchOf(m.Phase.ID)
			if k >= 0 && a.input.Roles[k] == quantify.Absent && o.Roles[i] != quantify.Absent {
				a.input.Roles[k] = o.Roles[i]
			}
		}
	}
	a.Roles = a.input.Roles
	a.Answer = quantify.Run(a.input)
	a.same = &result.SameSpecimen{Scans: []result.ScanOf{first.alone(a.Roles)}}
	for _, o := range others {
		a.same.Scans = append(a.same.Scans, o.alone(o.Roles))
	}
	if r := a.Answer.Repeats; r != nil {
		a.same.ChiSquare, a.same.Freedom, a.same.P, a.same.Between = result.Number(r.ChiSquare), r.Freedom, result.Number(r.P), result.Number(r.Between)
	}
	return a
}

// alone describes what one scan alone says of the phases of the specimen.
func (m measured) alone(roles []quantify.Role) result.ScanOf {
	out := result.ScanOf{File: m.job.File, SHA256: m.job.SHA256, Section: m.job.Specimen.Section, Phases: []result.PhaseOf{}}
	for i, match := range m.identified.Matches {
		if roles[i] != quantify.Specimen {
			continue
		}
		w := m.Answer.Fractions[i].Weight
		p := result.PhaseOf{ID: match.Phase.ID, WeightPercent: result.Number(w.Percent), WeightPercentLo: result.Number(w.Lo), WeightPercentHi: result.Number(w.Hi), Texture: []result.Texture{}}
		for _, q := range m.identified.Fit.Parameters {
			if q.Phase == i && q.Kind == pattern.TextureLogR && q.Free {
				p.Texture = append(p.Texture, textureOf(q))
			}
		}
		out.Phases = append(out.Phases, p)
	}
	return out
}

// ofTheSpecimen are cautions about the fractions, which the joint answer raises once.
var ofTheSpecimen = []string{"sum-assumption", "microabsorption", "chemistry-mismatch", "mixed-rir", "same-lines", "external-standard", "micrograph-disagrees"}

// adopt returns the cautions of the first scan with those of the others, which are given their file's name.
func adopt(scans []result.Analysis) []xrd.Caution {
	out := scans[0].Document.Cautions
	for _, o := range scans[1:] {
		for _, c := range o.Document.Cautions {
			known := slices.ContainsFunc(out, func(own xrd.Caution) bool { return own.Code == c.Code && own.Text == c.Text })
			if !known && !slices.Contains(ofTheSpecimen, c.Code) {
				c.Text = o.Document.Scan.File + ": " + c.Text
				out = append(out, c)
			}
		}
	}
	diagnose.Sort(out)
	return out
}

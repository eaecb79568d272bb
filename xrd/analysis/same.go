package analysis

import (
	"context"
	"errors"
	"fmt"
	"phasetally/xrd/result"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
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
	runs := make([]*run, len(jobs))
	for i, j := range jobs {
		if i > 0 {
			j.External = nil // the constant is that of the first scan
		}
		runs[i] = &run{job: j}
		if err := runs[i].measure(ctx); err != nil {
			return nil, fmt.Errorf("%s: %w", j.File, err)
		}
	}
	first := runs[0]
	if len(first.roles) > 0 {
		first.join(runs[1:])
	}
	out := make([]result.Analysis, len(runs))
	for i, r := range slices.Backward(runs) {
		r.finish()
		out[i] = result.Analysis{Document: r.doc, Curves: r.curves()}
	}
	for _, r := range runs[1:] {
		first.adopt(r)
	}
	sortCautions(first.doc.Cautions)
	out[0].Document = first.doc
	return out, ctx.Err()
}

// join replaces the answer of the first scan by that of all.
func (r *run) join(others []*run) {
	for _, o := range others {
		if o.outcome.Fit == nil || len(o.roles) == 0 {
			continue
		}
		r.input.More = append(r.input.More, o.outcome.Fit)
		for i, m := range o.outcome.Members { // seen in one scan is seen
			k := r.memberOf(m.Phase.ID)
			if k >= 0 && r.roles[k] == quantify.Absent && o.roles[i] != quantify.Absent {
				r.roles[k] = o.roles[i]
			}
		}
	}
	own := r.answer
	r.input.Roles = r.roles
	r.answer = quantify.Run(r.input)
	r.same = &result.SameSpecimen{Scans: []result.ScanOf{r.scanOf(own)}}
	for _, o := range others {
		r.same.Scans = append(r.same.Scans, o.scanOf(o.answer))
	}
	if a := r.answer.Repeats; a != nil {
		r.same.ChiSquare, r.same.Freedom, r.same.P, r.same.Between = number(a.ChiSquare), a.Freedom, number(a.P), number(a.Between)
	}
}

// memberOf returns the number of the member of an id, -1 for none.
func (r *run) memberOf(id string) int {
	for i, m := range r.outcome.Members {
		if strings.EqualFold(m.Phase.ID, id) {
			return i
		}
	}
	return -1
}

// scanOf describes what one scan alone says.
func (r *run) scanOf(a quantify.Answer) result.ScanOf {
	out := result.ScanOf{File: r.job.File, SHA256: r.job.SHA256, Section: r.job.Specimen.Section, Phases: []result.PhaseOf{}}
	for i, m := range r.outcome.Members {
		if r.roles[i] != quantify.Specimen {
			continue
		}
		w := a.Fractions[i].Weight
		p := result.PhaseOf{ID: m.Phase.ID, WeightPercent: number(w.Percent), WeightPercentLo: number(w.Lo), WeightPercentHi: number(w.Hi), Texture: []result.Texture{}}
		for _, q := range r.outcome.Fit.Parameters {
			if q.Phase == i && q.Kind == pattern.TextureLogR && q.Free {
				p.Texture = append(p.Texture, textureOf(q))
			}
		}
		out.Phases = append(out.Phases, p)
	}
	return out
}

// ofTheSpecimen are cautions about the fractions, which the joint answer raises once.
var ofTheSpecimen = []string{"sum-assumption", "microabsorption", "chemistry-mismatch", "mixed-rir", "same-lines", "external-standard"}

// adopt takes over the cautions of another scan of the specimen, with its name.
func (r *run) adopt(o *run) {
	for _, c := range o.doc.Cautions {
		if slices.Contains(ofTheSpecimen, c.Code) {
			continue
		}
		if !slices.ContainsFunc(r.doc.Cautions, func(own xrd.Caution) bool { return own.Code == c.Code && own.Text == c.Text }) {
			c.Text = o.job.File + ": " + c.Text
			r.doc.Cautions = append(r.doc.Cautions, c)
		}
	}
}

// disagreeP is the probability of chance below which scans of one specimen count as different.
const disagreeP = 0.01

// sameCautions says when scans of one specimen contradict each other.
func (r *run) sameCautions() []xrd.Caution {
	a := r.answer.Repeats
	if a == nil || a.P >= disagreeP {
		return nil
	}
	return []xrd.Caution{{Code: "scans-disagree", Severity: xrd.Warn,
		Text:     fmt.Sprintf("The scans of the specimen differ by more than counting and the scatter of lines explain (χ² = %.1f for %d degrees of freedom); amounts vary by %.1f %% between them. The intervals allow for it.", a.ChiSquare, a.Freedom, 100*a.Between),
		Remedy:   "Look at each scan alone: few grains, texture of another kind, or pieces that differ. More scans or a powder make the answer firmer.",
		Evidence: map[string]any{"chi_square": a.ChiSquare, "freedom": a.Freedom, "p": a.P, "between_relative": a.Between}}}
}

package session

import (
	"context"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

// ErrNothingLeft says that range and masks leave too little of a scan; test with errors.Is.
var ErrNothingLeft = analysis.ErrNothingLeft

// A Loader turns the arguments of a command into what is to be analysed, as the command itself does.
type Loader func(ctx context.Context, args []string) (analysis.Job, error)

// An Answer is the analysis of a state; it can be asked for candidates. It does not change.
type Answer struct {
	*analysis.Answered
	job analysis.Job
}

// Solve gives the answer of a command line. It is that of the command itself, from the same start, to the last digit; only when
// it began and how long it took are left out. Progress, when not nil, is told what is being tried.
func Solve(ctx context.Context, load Loader, args []string, progress func(result.Progress)) (*Answer, error) {
	job, err := load(ctx, args)
	if err != nil {
		return nil, err
	}
	job.Progress = progress
	job.Provenance.Started = nil
	job.Provenance.Command = "phasetally " + strings.Join(args, " ")
	a, err := analysis.Answer(ctx, job)
	if err != nil {
		return nil, err
	}
	return &Answer{a, job}, nil
}

// Found lists the phases of an answer as choices by hand take them over. The standard is left out: its own setting names it.
func (a *Answer) Found() []Phase {
	var out []Phase
	for _, p := range a.Document.Phases {
		if p.Origin == "standard" {
			continue
		}
		out = append(out, Phase{ID: p.ID, On: true, Aside: p.Origin == "preparation"})
	}
	return out
}

// A Reference is a phase of the collection that a search for words has found.
type Reference struct {
	ID, Name, Formula string   // of the phase
	Elements          []string // their symbols
	Allowed           bool     // it has only elements that were stated, or none were
}

// Find lists phases of the collection whose id, name or formula holds the words, or that have them as a synonym, and that have no
// elements but the given ones; without words or elements, all. At most so many are listed; more says whether there are others.
func (a *Answer) Find(words string, elements []string, most int) (found []Reference, more bool) {
	only := refdata.ElementSet{}
	for _, symbol := range elements {
		if e, ok := element.Lookup(strings.TrimSpace(symbol)); ok {
			only = only.With(e.Z)
		}
	}
	words = strings.ToLower(strings.TrimSpace(words))
	c := a.job.Collection
	called := refdata.Synonyms(words)
	for i := range c.Len() {
		e := c.Entry(i)
		if only != (refdata.ElementSet{}) && !e.Elements.Within(only) || !mentions(e, words) && !contains(called, e.ID) {
			continue
		}
		if len(found) == most {
			return found, true
		}
		found = append(found, a.reference(e))
	}
	return found, false
}

// mentions reports whether an entry is called so.
func mentions(e refdata.Entry, words string) bool {
	return slices.ContainsFunc([]string{e.ID, e.Name, e.Formula}, func(s string) bool { return strings.Contains(strings.ToLower(s), words) })
}

func (a *Answer) reference(e refdata.Entry) Reference {
	r := Reference{ID: e.ID, Name: e.Name, Formula: e.Formula, Allowed: a.job.Filter.Elements == (refdata.ElementSet{}) || e.Elements.Within(a.job.Filter.Elements)}
	for z := 1; z <= 118; z++ {
		if el, ok := element.ByZ(z); ok && e.Elements.Has(z) {
			r.Elements = append(r.Elements, el.Symbol)
		}
	}
	return r
}

// Finish returns the analysis as it is written to a folder: with the choices that led to it.
func (a *Answer) Finish(choices []string) result.Analysis {
	r := a.Analysis
	r.Document.Choices = choices
	return r
}

package analysis

import (
	"context"
	"fmt"
	"slices"

	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
)

// manyNamed is the most phases that are fitted only because they are named. Every phase is fitted with all others, several times: twelve
// wrong ones take ten seconds of processor time, forty took two minutes, and what they share out among themselves says nothing. Of more, a
// search among them keeps those that the scan shows; the others are watched, so that each has its limit or a caution.
const manyNamed = 12

// crowded reports whether a job names more phases than are fitted unasked.
func (j Job) crowded() bool { return len(j.Phases) > manyNamed && !j.Searched }

// shown returns the ids of the named phases that a search among them finds in a scan.
func (p prepared) shown(ctx context.Context) (ids []string, err error) {
	question, err := p.question(diagnose.Decisions{})
	if err != nil {
		return nil, err
	}
	p.tell(nil, "looking which of the named phases the scan shows")
	question.Filter.Require = nil
	found, err := identify.Run(ctx, question)
	if err != nil {
		return nil, err
	}
	for _, m := range found.Matches {
		ids = append(ids, m.Phase.ID)
	}
	return ids, nil
}

// only returns a job that names the phases that were shown, and watches the others. Phases of a micrograph stay, as standards do, which are
// named apart; where none is shown the first stays, so that the scan is told as not explained by what was named.
func (j Job) only(shown []string) Job {
	stays := func(id string) bool {
		return holds(shown, id) || slices.ContainsFunc(j.Areas, func(a Area) bool { return a.ID == id })
	}
	var kept, others []string
	for _, id := range j.Phases {
		if stays(id) {
			kept = append(kept, id)
		} else {
			others = append(others, id)
		}
	}
	if len(kept) == 0 {
		kept, others = others[:1], others[1:]
	}
	j.askedFor, j.Phases, j.Watch = len(j.Phases), kept, slices.Concat(j.Watch, others)
	return j
}

// uncrowded returns jobs of one specimen that name the phases that any of their scans shows.
func uncrowded(ctx context.Context, jobs []Job) ([]Job, error) {
	if !jobs[0].crowded() {
		return jobs, nil
	}
	var inAny []string
	for _, j := range jobs {
		p, err := prepare(ctx, j)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", j.File, err)
		}
		shown, err := p.shown(ctx)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", j.File, err)
		}
		inAny = append(inAny, shown...)
	}
	for i := range jobs {
		jobs[i] = jobs[i].only(inAny)
	}
	return jobs, nil
}

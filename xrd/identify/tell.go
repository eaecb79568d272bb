package identify

import (
	"fmt"
	"strings"

	"phasetally/xrd/result"
)

// tell says what is being tried, and what explains the scan so far, to whoever wants to know. The names are those of the present fit, so
// that the share is theirs.
func (s *search) tell(format string, about ...any) {
	if s.job.Progress == nil {
		return
	}
	p := result.Progress{Doing: fmt.Sprintf(format, about...), Peaks: len(s.found)}
	if s.fit != nil {
		p.Share = s.share()
		for _, q := range s.fit.Setup.Phases {
			p.Found = append(p.Found, q.Name)
		}
	}
	s.job.Progress(p)
}

// tellOf returns what tells of a search within this one: what that finds holds for another tube, and explains nothing of the scan yet.
func (s *search) tellOf(tube string) func(result.Progress) {
	return func(p result.Progress) { s.tell("asking whether the tube was %s: %s", tube, p.Doing) }
}

// names lists candidates for people.
func names(list []candidate) string {
	var tried []string
	for _, c := range list {
		tried = append(tried, c.phase.Name)
	}
	return strings.Join(tried, " or ")
}

// namesOf lists sets of candidates for people, the first few of them.
func namesOf(sets [][]candidate) string {
	var tried []string
	for _, set := range sets {
		var together []string
		for _, c := range set {
			together = append(together, c.phase.Name)
		}
		tried = append(tried, strings.Join(together, " with "))
	}
	return strings.Join(tried, " or ")
}

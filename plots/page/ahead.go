package page

import (
	"cmp"
	"slices"
	"time"

	"phasetally/xrd/result"
	"phasetally/xrd/session"
)

// While somebody reads an answer, the answers are worked out that one more click would ask for: each phase of it left out, and
// each that was left out taken in. They are fits like any other, from the same command lines, so that a click shows at once what it
// would have shown later.
const (
	aheadPause = 200 * time.Millisecond // in which the page draws what is new
	// aheadWorth is how long a fit may take to be worth doing unasked, and aheadSpend how long all of them may take together: beyond
	// that they cost more than the waiting that they save.
	aheadWorth = 2 * time.Second
	aheadSpend = 20 * time.Second
	mostAhead  = 12 // fits
	// mostGuessed is how many of their answers a scan keeps, some megabytes each: who undoes a choice finds them again.
	mostGuessed = 16
)

// lookedFor returns the fit ahead for a command line when it runs, and stops any other. The lock is held.
func (b *bench) lookedFor(args string) *fit {
	if f := b.ahead; f != nil && f.args == args {
		b.ahead = nil
		b.looks++
		return f
	}
	b.stopAhead()
	return nil
}

// stopAhead ends the work ahead. The lock is held.
func (b *bench) stopAhead() {
	b.looks++
	if b.ahead != nil {
		b.ahead.stop()
		b.ahead = nil
	}
}

// lookAhead begins to work ahead of what is shown. The lock is held.
func (s *Server) lookAhead(b *bench) {
	b.stopAhead()
	if s.o.ReadOnly || s.asking > 0 || b != s.now() || b.busy || b.shown == nil || b.shown.took > aheadWorth {
		return
	}
	go s.workAhead(b, b.looks, b.likely())
}

// workAhead does one fit after the other until all are done, or something else is to be done.
func (s *Server) workAhead(b *bench, look int, likely [][]string) {
	end := time.Now().Add(aheadSpend)
	for pause := aheadPause; len(likely) > 0 && time.Now().Before(end); {
		select {
		case <-time.After(pause):
		case <-s.ctx.Done():
			return
		}
		s.mu.Lock()
		if b.looks != look {
			s.mu.Unlock()
			return
		}
		if slices.ContainsFunc(s.benches, func(b *bench) bool { return b.busy }) { // scans that wait for their answer come first
			s.mu.Unlock()
			pause = aheadPause
			continue
		}
		args := likely[0]
		likely, pause = likely[1:], 0
		if b.known(keyOf(args)) != nil {
			s.mu.Unlock()
			continue
		}
		f := s.begin(args)
		b.ahead = f
		s.mu.Unlock()
		<-f.done
		s.keepAhead(b, look, f)
	}
}

// keepAhead stores what a fit ahead has found, unless it was taken over.
func (s *Server) keepAhead(b *bench, look int, f *fit) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if b.looks != look {
		return
	}
	if b.ahead = nil; f.err == nil {
		b.guessed = append(b.guessed[max(0, len(b.guessed)-mostGuessed+1):], f.answer)
	}
}

// likely lists the command lines that one more click on a switch would give: those of the faintest phases first, since they are
// doubted most. The lock is held.
func (b *bench) likely() (lines [][]string) {
	phases := slices.Clone(b.shown.answer.Document.Phases)
	slices.SortStableFunc(phases, func(p, q result.Phase) int { return cmp.Compare(percent(p), percent(q)) })
	var clicks []session.Choice
	for _, p := range b.session.Now().Phases {
		if !p.On {
			clicks = append(clicks, session.Choice{Kind: session.Include, ID: p.ID})
		}
	}
	for _, p := range phases {
		if p.Origin != standardOrigin {
			clicks = append(clicks, session.Choice{Kind: session.LeaveOut, ID: p.ID})
		}
	}
	found := b.shown.answer.Found()
	for _, c := range clicks[:min(len(clicks), mostAhead)] {
		trial := session.Session{Scan: b.session.Scan, States: slices.Clone(b.session.States), At: b.session.At}
		if trial.Apply(c, found) == nil {
			lines = append(lines, trial.Args())
		}
	}
	return lines
}

// percent is the weight fraction of a phase, 0 where it has none.
func percent(p result.Phase) float64 {
	if p.WeightPercent == nil {
		return 0
	}
	return *p.WeightPercent
}

// ask lets a request have the machine for itself: work ahead waits until it has been answered.
func (s *Server) ask() (answered func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.asking++
	if b := s.now(); b != nil {
		b.stopAhead()
	}
	return func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.asking--
		if b := s.now(); b != nil {
			s.lookAhead(b)
		}
	}
}

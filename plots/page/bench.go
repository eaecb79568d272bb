package page

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/session"
)

// A bench is a scan on which work is done.
type bench struct {
	session *session.Session
	answers []*solved // the latest ones, oldest first
	guessed []*solved // of choices that are likely next, worked out while the page is looked at
	ahead   *fit      // of such a choice, while it runs
	shown   *solved   // what is shown; it may be of an earlier state than the session's
	before  *solved   // what was shown before that
	trouble string    // why the latest choice could not be followed
	busy    bool
	began   time.Time
	fit     *fit   // the latest, while it runs
	run     int    // counts the fits that were begun: only the latest may show its answer
	looks   int    // counts how often work ahead was begun: only the latest goes on
	saved   string // the folder that was written last
	words   string // the latest answer in a sentence, for the list of scans
	used    int    // when it was shown last, counted by changes of the page
}

// solved is the answer of a command line.
type solved struct {
	args    string
	answer  *session.Answer
	words   report.Answer
	started time.Time
	took    time.Duration
}

// mostKept is how many answers a scan keeps, so that going back is instant: some megabytes each.
const mostKept = 12

// idle reports whether nobody has asked for the answer of a bench yet.
func (b *bench) idle() bool { return b.shown == nil && !b.busy && b.trouble == "" && b.words == "" }

// known returns the answer of a command line if it is still there.
func (b *bench) known(args string) *solved {
	for _, list := range [][]*solved{b.answers, b.guessed} {
		if i := slices.IndexFunc(list, func(a *solved) bool { return a.args == args }); i >= 0 {
			return list[i]
		}
	}
	return nil
}

func (b *bench) remember(a *solved) {
	if slices.ContainsFunc(b.answers, func(o *solved) bool { return o.args == a.args }) {
		return
	}
	if len(b.answers) >= mostKept { // the first answer stays: it is where everything began
		b.answers = slices.Delete(b.answers, 1, 2)
	}
	b.answers = append(b.answers, a)
}

// show puts an answer in the place of the one that is shown.
func (b *bench) show(a *solved) {
	if b.shown != a {
		b.before, b.shown = b.shown, a
	}
	b.saved, b.words = "", a.words.Sentence
}

// mostOpen is how many scans keep their answers; of others only the sentence is kept, and they are solved anew when they are shown.
const mostOpen = 8

// forget gives the memory of the answers free that have not been looked at for longest. The lock is held.
func (s *Server) forget() {
	var open []*bench
	for i, b := range s.benches {
		if i != s.shown && b.shown != nil && !b.busy {
			open = append(open, b)
		}
	}
	slices.SortFunc(open, func(a, b *bench) int { return cmp.Compare(b.used, a.used) })
	for _, b := range open[min(len(open), mostOpen):] {
		b.answers, b.guessed, b.shown, b.before = nil, nil, nil, nil
	}
}

func keyOf(args []string) string { return strings.Join(args, "\x00") }

// A fit is the work on the answer of one command line.
type fit struct {
	args   string
	began  time.Time
	stop   context.CancelFunc
	doing  atomic.Pointer[string] // what is being tried, in words; nil before the first
	done   chan struct{}          // closed when it has ended
	answer *solved                // from then on
	err    error
}

// begin starts a fit.
func (s *Server) begin(args []string) *fit {
	ctx, stop := context.WithCancel(s.ctx)
	f := &fit{args: keyOf(args), began: time.Now(), stop: stop, done: make(chan struct{})}
	go func() {
		defer close(f.done)
		answer, err := solveSafely(ctx, s.o.Load, args, func(p result.Progress) {
			words := report.Standing(p)
			f.doing.Store(&words)
		})
		if f.err = err; err == nil {
			f.answer = &solved{args: f.args, answer: answer, words: report.AnswerOf(answer.Document), started: f.began, took: time.Since(f.began)}
		}
	}()
	return f
}

// settle brings what is shown to the state of the session: at once when its answer is known, else by a fit, which stops an older one.
// The channel is closed when that is done. The lock is held.
func (s *Server) settle(b *bench) <-chan struct{} {
	if b.fit != nil {
		b.fit.stop()
		b.fit = nil
	}
	b.run++
	b.busy = false
	args := b.session.Args()
	done := make(chan struct{})
	if a := b.known(keyOf(args)); a != nil {
		b.remember(a)
		b.show(a)
		close(done)
		s.lookAhead(b)
	} else {
		f := b.lookedFor(keyOf(args))
		if f == nil {
			f = s.begin(args)
		}
		b.fit, b.busy, b.began = f, true, time.Now()
		go func(run, state int) {
			defer close(done)
			s.finish(b, run, state, f)
		}(b.run, b.session.At)
	}
	s.changed()
	s.keep()
	return done
}

// finish shows the answer of a fit when it has ended, unless a newer choice has been made.
func (s *Server) finish(b *bench, run, state int, f *fit) {
	<-f.done
	s.mu.Lock()
	defer s.mu.Unlock()
	if f.err == nil {
		b.remember(f.answer)
	}
	defer s.forget()
	if b.run != run {
		return
	}
	b.busy, b.fit = false, nil
	switch {
	case f.err == nil:
		b.show(f.answer)
		s.lookAhead(b)
	case s.ctx.Err() != nil: // the program ends: the choice stays for the next start
		return
	default:
		b.trouble = trouble(f.err)
		if at := b.session.At; at == state {
			if b.session.Withdraw(state); b.session.At != at {
				s.settle(b)
			}
		}
	}
	s.changed()
	s.keep()
}

// solveSafely turns a failure of ours into an error, so that one choice cannot end the program.
func solveSafely(ctx context.Context, load session.Loader, args []string, progress func(result.Progress)) (a *session.Answer, err error) {
	defer func() {
		if p := recover(); p != nil {
			a, err = nil, fmt.Errorf("unexpected failure: %v", p)
		}
	}()
	return session.Solve(ctx, load, args, progress)
}

// trouble says in words why there is no answer.
func trouble(err error) string {
	switch {
	case errors.Is(err, context.Canceled):
		return "Stopped; the choice was taken back."
	case errors.Is(err, session.ErrNothingLeft):
		return err.Error() + "; widen the range or give up a mask."
	}
	return err.Error()
}

// finished is the analysis of what is shown, as it is saved.
func (b *bench) finished() result.Analysis {
	r := b.shown.answer.Finish(b.session.Choices())
	started, took := b.shown.started, b.shown.took.Seconds()
	r.Document.Provenance.Started, r.Document.Provenance.ElapsedS = &started, &took
	return r
}

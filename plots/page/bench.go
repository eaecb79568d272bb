package page

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/session"
)

// A bench is a scan on which work is done.
type bench struct {
	session *session.Session
	answers []*solved // the latest ones, oldest first
	shown   *solved   // what is shown; it may be of an earlier state than the session's
	before  *solved   // what was shown before that
	trouble string    // why the latest choice could not be followed
	busy    bool
	began   time.Time
	stop    context.CancelFunc
	run     int           // counts the fits that were begun: only the latest may show its answer
	done    chan struct{} // closed when the latest has ended
	saved   string        // the folder that was written last
	words   string        // the latest answer in a sentence, for the list of scans
	used    int           // when it was shown last, counted by changes of the page
}

// solved is the answer of a command line.
type solved struct {
	args    string
	answer  *session.Answer
	words   report.Answer
	state   int // for which it was solved first
	started time.Time
	took    time.Duration
}

// mostKept is how many answers a scan keeps, so that going back is instant: some megabytes each.
const mostKept = 12

// idle reports whether nobody has asked for the answer of a bench yet.
func (b *bench) idle() bool { return b.shown == nil && !b.busy && b.trouble == "" && b.words == "" }

// known returns the answer of a command line if it is still there.
func (b *bench) known(args string) *solved {
	for _, a := range b.answers {
		if a.args == args {
			return a
		}
	}
	return nil
}

func (b *bench) remember(a *solved) {
	if b.known(a.args) != nil {
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
		b.answers, b.shown, b.before = nil, nil, nil
	}
}

func keyOf(args []string) string { return strings.Join(args, "\x00") }

// settle brings what is shown to the state of the session: at once when its answer is known, else by a fit, which stops an older one.
// The channel is closed when that is done. The lock is held.
func (s *Server) settle(b *bench) <-chan struct{} {
	if b.stop != nil {
		b.stop()
		b.stop = nil
	}
	b.run++
	b.busy = false
	done := make(chan struct{})
	b.done = done
	args := b.session.Args()
	if a := b.known(keyOf(args)); a != nil {
		b.show(a)
		close(done)
		s.keep()
		s.changed()
		return done
	}
	ctx, stop := context.WithCancel(s.ctx)
	b.stop, b.busy, b.began = stop, true, time.Now()
	go s.solve(ctx, b, b.run, b.session.At, args, done)
	s.keep()
	s.changed()
	return done
}

// solve fits and shows the answer, unless a newer choice has been made.
func (s *Server) solve(ctx context.Context, b *bench, run, state int, args []string, done chan struct{}) {
	defer close(done)
	began := time.Now()
	answer, err := solveSafely(ctx, s.o.Load, args)
	s.mu.Lock()
	defer s.mu.Unlock()
	var a *solved
	if err == nil {
		a = &solved{args: keyOf(args), answer: answer, words: report.AnswerOf(answer.Document), state: state, started: began, took: time.Since(began)}
		b.remember(a)
	}
	defer s.forget()
	if b.run != run {
		return
	}
	b.busy, b.stop = false, nil
	switch {
	case err == nil:
		b.show(a)
	case s.ctx.Err() != nil: // the program ends: the choice stays for the next start
		return
	default:
		b.trouble = trouble(err)
		if at := b.session.At; at == state {
			if b.session.Withdraw(state); b.session.At != at {
				s.settle(b)
			}
		}
	}
	s.keep()
	s.changed()
}

// solveSafely turns a failure of ours into an error, so that one choice cannot end the program.
func solveSafely(ctx context.Context, load session.Loader, args []string) (a *session.Answer, err error) {
	defer func() {
		if p := recover(); p != nil {
			a, err = nil, fmt.Errorf("unexpected failure: %v", p)
		}
	}()
	return session.Solve(ctx, load, args)
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

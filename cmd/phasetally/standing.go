package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"phasetally/plots/report"
	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

// standing is one line that says where an analysis stands, for as long as it runs.
type standing struct {
	bar   *progressbar.ProgressBar // nil: nobody looks
	width func() int               // of the terminal, characters
	words atomic.Pointer[string]   // the latest
	ended sync.Once
	done  chan struct{}
}

// refresh is how often the line is drawn: a slow terminal must not keep the analysis waiting, which only leaves its words.
const refresh = 200 * time.Millisecond

// newStanding returns a line on a terminal, or one that nobody sees. It is wiped away as soon as the context ends.
func (o *options) newStanding(ctx context.Context, w io.Writer) *standing {
	f, ok := w.(*os.File)
	if o.quiet || !ok || !isatty.IsTerminal(f.Fd()) {
		return &standing{}
	}
	s := standingOn(f, func() int {
		width, _, err := term.GetSize(int(f.Fd()))
		return saidWidth(width, err)
	})
	context.AfterFunc(ctx, s.end)
	go s.draw()
	return s
}

const (
	usualWidth  = 80 // characters, of a terminal that does not say
	besideWords = 16 // what the line has beside its words: a sign that moves, and the time
)

// saidWidth is the width of a terminal that says one; terminals without a window behind them say 0.
func saidWidth(width int, err error) int {
	if err != nil || width <= 0 {
		return usualWidth
	}
	return width
}

func standingOn(w io.Writer, width func() int) *standing {
	return &standing{width: width, done: make(chan struct{}), bar: progressbar.NewOptions(-1, progressbar.OptionSetWriter(w), progressbar.OptionSetElapsedTime(true),
		progressbar.OptionSpinnerType(14), progressbar.OptionSetSpinnerChangeInterval(0), progressbar.OptionClearOnFinish())}
}

// draw draws the line until it ends.
func (s *standing) draw() {
	for tick := time.NewTicker(refresh); ; {
		select {
		case <-s.done:
			return
		case <-tick.C:
			s.show()
		}
	}
}

// show draws the latest words, as many as the line holds.
func (s *standing) show() {
	if words := s.words.Load(); words != nil {
		s.bar.Describe(cutTo(s.width()-besideWords, *words))
	}
}

// tell shows where an analysis stands.
func (s *standing) tell(p result.Progress) { s.say(report.Standing(p)) }

// manyFiles is how many files of reference data take longer to read than a scan to explain: some seconds.
const manyFiles = 1000

// reading shows how much of the reference data is read, and of many files what saves it the next time.
func (s *standing) reading(p library.Progress) {
	words := fmt.Sprintf("reading the reference data: %d of %d files", p.Done, p.Total)
	if p.Total >= manyFiles {
		words += "; 'library build' makes one of them that is read at once"
	}
	s.say(words)
}

// say leaves words to be shown.
func (s *standing) say(words string) { s.words.Store(&words) }

// end wipes the line away.
func (s *standing) end() {
	if s.bar == nil {
		return
	}
	s.ended.Do(func() {
		close(s.done)
		_ = s.bar.Finish()
	})
}

// cutTo cuts words to so many characters.
func cutTo(most int, words string) string {
	r := []rune(words)
	if len(r) <= max(1, most) {
		return words
	}
	return string(r[:max(1, most)-1]) + "…"
}

package main

import (
	"context"
	"io"
	"os"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"phasetally/plots/report"
	"phasetally/xrd/result"
)

// standing is one line that says where an analysis stands, for as long as it runs.
type standing struct {
	bar   *progressbar.ProgressBar // nil: nobody looks
	width func() int               // of the terminal, characters
}

// newStanding returns a line on a terminal, or one that nobody sees. It is wiped away as soon as the context ends.
func (o *options) newStanding(ctx context.Context, w io.Writer) *standing {
	f, ok := w.(*os.File)
	if o.quiet || !ok || !isatty.IsTerminal(f.Fd()) {
		return &standing{}
	}
	s := standingOn(f, func() int {
		width, _, err := term.GetSize(int(f.Fd()))
		if err != nil {
			return usualWidth
		}
		return width
	})
	context.AfterFunc(ctx, s.end)
	return s
}

const (
	usualWidth  = 80 // characters, of a terminal that does not say
	besideWords = 16 // what the line has beside its words: a sign that moves, and the time
)

func standingOn(w io.Writer, width func() int) *standing {
	return &standing{progressbar.NewOptions(-1, progressbar.OptionSetWriter(w), progressbar.OptionSetElapsedTime(true), progressbar.OptionSpinnerType(14),
		progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish()), width}
}

// tell shows where an analysis stands.
func (s *standing) tell(p result.Progress) { s.say(report.Standing(p)) }

// say shows words, as many as a line holds.
func (s *standing) say(words string) {
	if s.bar != nil {
		s.bar.Describe(cutTo(s.width()-besideWords, words))
	}
}

// end wipes the line away.
func (s *standing) end() {
	if s.bar != nil {
		_ = s.bar.Finish()
	}
}

// cutTo cuts words to so many characters.
func cutTo(most int, words string) string {
	r := []rune(words)
	if len(r) <= max(1, most) {
		return words
	}
	return string(r[:max(1, most)-1]) + "…"
}

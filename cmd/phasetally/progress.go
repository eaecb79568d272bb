package main

import (
	"io"
	"os"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/schollz/progressbar/v3"
)

// progress is a bar on a terminal, and nothing elsewhere.
type progress struct {
	w    io.Writer
	what string
	bar  *progressbar.ProgressBar
}

func newProgress(w io.Writer, what string) *progress { return &progress{w: w, what: what} }

// set shows how much is done.
func (p *progress) set(done, total int) {
	f, ok := p.w.(*os.File)
	if !ok || !isatty.IsTerminal(f.Fd()) {
		return
	}
	if p.bar == nil {
		p.bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(p.what),
			progressbar.OptionShowCount(), progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish())
	}
	_ = p.bar.Set(done)
}

func (p *progress) finish() {
	if p.bar != nil {
		_ = p.bar.Finish()
	}
}

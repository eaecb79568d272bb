// Package browsertest opens pages in a real browser, for tests only.
package browsertest

import (
	"context"
	"fmt"
	"os/exec"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// Start starts a Chromium with an empty tab, which ends with the test; without a Chromium the test is skipped, loudly.
func Start(t *testing.T) context.Context {
	t.Helper()
	program := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			program = path
			break
		}
	}
	if program == "" {
		t.Skip("NOT TESTED: a page in a real browser, because no chromium is installed (Debian: apt-get install chromium)")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-background-networking", true), chromedp.WindowSize(1280, 900))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank"))) // the first call owns the browser: no time limit on it
	return ctx
}

// A Record is what happened in a tab.
type Record struct {
	Mu       sync.Mutex // guards the rest
	Errors   []string   // all that went wrong
	Requests []string   // the addresses that it asked
}

// Watch begins to record what happens in a tab.
func (r *Record) Watch(t *testing.T, tab context.Context) {
	t.Helper()
	require.NoError(t, chromedp.Listen(tab, r.record))
	_, err := chromedp.Call(tab, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	_, err = chromedp.Call(tab, log.Enable, cdp.Empty{})
	require.NoError(t, err)
}

func (r *Record) record(ev any) {
	r.Mu.Lock()
	defer r.Mu.Unlock()
	switch ev := ev.(type) {
	case *runtime.EventExceptionThrown:
		r.Errors = append(r.Errors, fmt.Sprint(ev.ExceptionDetails.Text, " ", ev.ExceptionDetails.LineNumber))
	case *runtime.EventConsoleAPICalled:
		r.Errors = append(r.Errors, fmt.Sprint("console: ", ev.Type, len(ev.Args)))
	case *log.EventEntryAdded:
		if !strings.Contains(ev.Entry.Text, "status of 409") && !strings.Contains(ev.Entry.Text, "status of 422") { // a page says these in words
			r.Errors = append(r.Errors, ev.Entry.Text)
		}
	case *network.EventRequestWillBeSent:
		r.Requests = append(r.Requests, ev.Request.URL)
	}
}

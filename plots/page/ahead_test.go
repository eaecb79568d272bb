package page_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// counted is a hook that counts the fits of a command line.
type counted struct {
	mu sync.Mutex
	n  int
}

func (c *counted) hook(context.Context) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n++
	return nil
}

func (c *counted) fits() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.n
}

// While an answer is looked at, those of the next clicks are worked out: a click shows the same numbers at once, without another fit.
func TestTheNextClickIsWorkedOutAhead(t *testing.T) {
	b := newBench(t)
	var without counted
	b.hooks = map[string]func(context.Context) error{"bronze-alpha": without.hook}
	c, _ := start(t, b, "a.xy")
	c.settled()
	require.Eventually(t, func() bool { return without.fits() == 1 }, 30*time.Second, 5*time.Millisecond, "cu6sn5-eta left out")
	status, text := c.post("/choose", `{"kind":"leaveout","id":"cu6sn5-eta"}`)
	require.Equal(t, 200, status, text)
	s := c.settled()
	require.Len(t, s.Work.Answer.Claims, 1)
	assert.Equal(t, "bronze-alpha", s.Work.Answer.Claims[0].ID)
	status, text = c.post("/undo", "{}")
	require.Equal(t, 200, status, text)
	status, text = c.post("/choose", `{"kind":"leaveout","id":"cu6sn5-eta"}`)
	require.Equal(t, 200, status, text)
	assert.False(t, c.state().Work.Busy, "it is there")
	assert.Equal(t, 1, without.fits(), "what was worked out, or was being worked out, is not fitted again")
}

// Work ahead gives way: a choice of another kind stops it, and nobody waits for it.
func TestAChoiceStopsTheWorkAhead(t *testing.T) {
	b := newBench(t)
	var began counted
	b.hooks = map[string]func(context.Context) error{"--phase": func(ctx context.Context) error {
		_ = began.hook(ctx)
		return b.wait(ctx)
	}}
	c, _ := start(t, b, "a.xy")
	c.settled()
	require.Eventually(t, func() bool { return began.fits() == 1 }, 30*time.Second, 5*time.Millisecond, "a phase left out")
	status, text := c.post("/choose", `{"kind":"mask","range":[30,31]}`)
	require.Equal(t, 200, status, text)
	s := c.settled()
	assert.Equal(t, 1, s.Work.State)
	require.Eventually(t, func() bool { b.mu.Lock(); defer b.mu.Unlock(); return len(b.ended) >= 1 }, 10*time.Second, time.Millisecond)
	assert.ErrorIs(t, b.ended[0], context.Canceled)
	assert.Empty(t, s.Work.Trouble, "what was stopped was not asked for")
}

// On a page for reading only nobody can click, and nothing is worked out for it.
func TestNothingIsWorkedOutForReadersOnly(t *testing.T) {
	b := newBench(t)
	var began counted
	b.hooks = map[string]func(context.Context) error{"--phase": began.hook}
	o := options(t)
	o.Load, o.Scans, o.ReadOnly = b.load, []string{"a.xy"}, true
	c, address := serve(t, o)
	c.letIn(address)
	c.settled()
	time.Sleep(time.Second)
	assert.Zero(t, began.fits())
}

package main

import (
	"context"
	"sync"
	"time"
)

// grace is how long an interrupted command may take to end by itself, at a point where it can.
const grace = 50 * time.Millisecond

// An unfinished command is one that may be left where it is, unless it is keeping what it has done.
type unfinished struct {
	mu      sync.Mutex
	keeping int
	left    bool
}

type unfinishedKey struct{}

// await runs a command and returns its status. Interrupted, the command ends by itself, or is left where it is after the grace: work
// that nothing can stop, such as reading from a pipe into which nobody writes, does not keep its user waiting. It reports false then.
func await(ctx context.Context, command func(context.Context) int) (code int, ended bool) {
	u := &unfinished{}
	done := make(chan int, 1)
	go func() { done <- command(context.WithValue(ctx, unfinishedKey{}, u)) }()
	select {
	case code = <-done:
		return code, true
	case <-ctx.Done():
	}
	for {
		select {
		case code = <-done:
			return code, true
		case <-time.After(grace):
			if u.leave() {
				return 0, false
			}
		}
	}
}

func (u *unfinished) leave() bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.left = u.left || u.keeping == 0
	return u.left
}

// keep does work that an interrupt must let come to its end, such as writing results. It is not begun when the command has been left.
func keep(ctx context.Context, work func() error) error {
	if u, ok := ctx.Value(unfinishedKey{}).(*unfinished); ok {
		u.mu.Lock()
		if u.left {
			u.mu.Unlock()
			return ctx.Err()
		}
		u.keeping++
		u.mu.Unlock()
		defer func() {
			u.mu.Lock()
			u.keeping--
			u.mu.Unlock()
		}()
	}
	return work()
}

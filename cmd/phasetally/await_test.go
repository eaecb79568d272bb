package main

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A command that hears nothing is left; one that keeps what it has done comes to its end first, and starts no more once it was left.
func TestAwait(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	code, ended := await(ctx, func(context.Context) int { return 3 })
	assert.True(t, ended)
	assert.Equal(t, 3, code)

	cancel()
	deaf, after := make(chan bool), make(chan error)
	began := time.Now()
	_, ended = await(ctx, func(ctx context.Context) int {
		<-deaf
		after <- keep(ctx, func() error { t.Error("work was begun after the command was left"); return nil })
		return 0
	})
	assert.False(t, ended)
	assert.Less(t, time.Since(began), grace+time.Minute)
	close(deaf)
	assert.ErrorIs(t, <-after, context.Canceled)

	kept := false
	later, interrupt := context.WithCancel(t.Context())
	code, ended = await(later, func(ctx context.Context) int {
		_ = keep(ctx, func() error { interrupt(); time.Sleep(2*grace + grace/2); kept = true; return nil })
		return 5
	})
	assert.True(t, ended)
	assert.True(t, kept)
	assert.Equal(t, 5, code)
}

package page

import (
	"context"
	"errors"
	"net"
	"net/http"
	"slices"
	"time"

	"phasetally/plots/report"
)

// Handler answers what the page asks.
func (s *Server) Handler() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /{$}", static("text/html; charset=utf-8", pageHTML))
	m.HandleFunc("GET /page.css", static("text/css; charset=utf-8", []byte(pageCSS)))
	m.HandleFunc("GET /page.js", static("text/javascript; charset=utf-8", pageScript))
	m.HandleFunc("GET /figure.js", static("text/javascript; charset=utf-8", []byte(report.FigureScript)))
	m.HandleFunc("GET /state", s.getState)
	m.HandleFunc("GET /doing", s.getDoing)
	m.HandleFunc("GET /events", s.getEvents)
	m.HandleFunc("GET /fields", s.getFields)
	m.HandleFunc("GET /curves", s.getCurves)
	m.HandleFunc("GET /ask", s.getAsk)
	m.HandleFunc("GET /find", s.getFind)
	m.HandleFunc("GET /compare", s.getCompare)
	m.HandleFunc("GET /table", s.getTable)
	m.HandleFunc("GET /figure", s.getFigure)
	m.HandleFunc("POST /choose", s.postChoose)
	m.HandleFunc("POST /undo", s.move(func(b *bench, _ int) bool { return b.session.Undo() }))
	m.HandleFunc("POST /redo", s.move(func(b *bench, _ int) bool { return b.session.Redo() }))
	m.HandleFunc("POST /go", s.move(func(b *bench, to int) bool { return b.session.Go(to) }))
	m.HandleFunc("POST /stop", s.postStop)
	m.HandleFunc("POST /show", s.postShow)
	m.HandleFunc("POST /drop", s.postDrop)
	m.HandleFunc("POST /save", s.postSave)
	return s.guard(m)
}

// Serve answers on a listener of the loopback address until the context of New ends.
func (s *Server) Serve(l net.Listener) error {
	defer s.Close()
	s.host = l.Addr().String()
	server := &http.Server{Handler: s.Handler(), ReadHeaderTimeout: 10 * time.Second, MaxHeaderBytes: 64 << 10,
		BaseContext: func(net.Listener) context.Context { return s.ctx }}
	stop := context.AfterFunc(s.ctx, func() { _ = server.Close() })
	defer stop()
	go s.solveAll()
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.keep()
	return nil
}

// solveAll answers the scans that nobody has opened yet, one after the other.
func (s *Server) solveAll() {
	for i := 0; ; i++ {
		s.mu.Lock()
		if i >= len(s.benches) {
			s.mu.Unlock()
			return
		}
		order := append([]int{s.shown}, seq(len(s.benches))...)
		k := slices.IndexFunc(order, func(k int) bool { return s.benches[k].idle() })
		if k < 0 {
			s.mu.Unlock()
			return
		}
		done := s.settle(s.benches[order[k]])
		s.mu.Unlock()
		select {
		case <-done:
		case <-s.ctx.Done():
			return
		}
	}
}

package page

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"

	"phasetally/plots/report"
	"phasetally/xrd/session"
)

//go:embed page.html
var pageSource string

// pageHTML is the page with the limits that stand at the foot of every page of the program.
var pageHTML = []byte(strings.Replace(pageSource, "<!-- safety -->", report.Safety(), 1))

//go:embed page.css
var pageCSS string

//go:embed page.js
var pageScript []byte

func static(kind string, body []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		_, _ = w.Write(body)
	}
}

// reply sends a value; a browser that has gone needs none.
func reply(w http.ResponseWriter, value any) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(value)
}

// object says to the user what is wrong with a request, as one line of text.
func object(w http.ResponseWriter, err error) {
	http.Error(w, err.Error(), http.StatusUnprocessableEntity)
}

// errNothing says that there is no answer to ask about.
var errNothing = errors.New("there is no answer yet; drop a scan, or wait until the fit has ended")

// read decodes what the page sends; anything else is refused.
func read(r *http.Request, into any) error {
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return fmt.Errorf("the request is not understood: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("the request is not understood: something follows it")
	}
	return nil
}

func (s *Server) getState(w http.ResponseWriter, _ *http.Request) {
	s.mu.Lock()
	v := s.view()
	s.mu.Unlock()
	reply(w, v)
}

// getDoing says what the fit is trying that runs for the scan that is shown; nothing when none does.
func (s *Server) getDoing(w http.ResponseWriter, _ *http.Request) {
	var doing struct {
		Words string `json:"words"`
	}
	s.mu.Lock()
	if b := s.now(); b != nil && b.fit != nil {
		if words := b.fit.doing.Load(); words != nil {
			doing.Words = report.BelowLine(*words)
		}
	}
	s.mu.Unlock()
	reply(w, doing)
}

// getEvents tells a tab whenever there is something new, until it is closed.
func (s *Server) getEvents(w http.ResponseWriter, r *http.Request) {
	flush, ok := w.(http.Flusher)
	if !ok {
		object(w, errors.New("this connection cannot tell of changes"))
		return
	}
	news := make(chan struct{}, 1)
	s.mu.Lock()
	s.watchers[news] = true
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		delete(s.watchers, news)
		s.mu.Unlock()
	}()
	w.Header().Set("Content-Type", "text/event-stream")
	for {
		s.mu.Lock()
		revision := s.revision
		s.mu.Unlock()
		if _, err := fmt.Fprintf(w, "data: %d\n\n", revision); err != nil {
			return
		}
		flush.Flush()
		select {
		case <-news:
		case <-r.Context().Done():
			return
		case <-s.ctx.Done():
			return
		}
	}
}

func (s *Server) getFields(w http.ResponseWriter, _ *http.Request) { reply(w, session.Fields()) }

// answerOf returns the answer of a scan and a state: what is shown for empty strings. It is solved when it is no longer there.
func (s *Server) answerOf(r *http.Request, scan, state string) (*solved, error) {
	s.mu.Lock()
	b := s.now()
	if scan != "" {
		b = nil
		if k, err := strconv.Atoi(scan); err == nil && k >= 0 && k < len(s.benches) {
			b = s.benches[k]
		}
	}
	if b == nil || state == "" && b.shown == nil {
		s.mu.Unlock()
		return nil, errNothing
	}
	if state == "" {
		defer s.mu.Unlock()
		return b.shown, nil
	}
	k, err := strconv.Atoi(state)
	if err != nil || k < 0 || k >= len(b.session.States) {
		s.mu.Unlock()
		return nil, errors.New("there is no such choice")
	}
	args := b.session.ArgsOf(k)
	a := b.known(keyOf(args))
	s.mu.Unlock()
	if a != nil {
		return a, nil
	}
	answer, err := solveSafely(r.Context(), s.o.Load, args, nil)
	if err != nil {
		return nil, err
	}
	a = &solved{args: keyOf(args), answer: answer, words: report.AnswerOf(answer.Document)}
	s.mu.Lock()
	defer s.mu.Unlock()
	b.remember(a)
	return a, nil
}

// number reads a number of a query; 0 for none.
func number(r *http.Request, name string) float64 {
	v, err := strconv.ParseFloat(r.URL.Query().Get(name), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// mostPoints bounds what one drawing holds: several points for each column of the widest screen.
const mostPoints = 20000

func (s *Server) getCurves(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	a, err := s.answerOf(r, q.Get("scan"), q.Get("state"))
	if err != nil {
		object(w, err)
		return
	}
	v := report.View{Lo: number(r, "lo"), Hi: number(r, "hi"), Most: int(min(mostPoints, max(200, number(r, "most"))))}
	if id := q.Get("preview"); id != "" {
		defer s.ask()()
		c, err := a.answer.Candidate(r.Context(), id)
		if err != nil {
			object(w, err)
			return
		}
		v.Preview = c.Curve
	}
	body, err := report.Curves(a.answer.Analysis, v)
	if err != nil {
		object(w, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(body)
}

func (s *Server) getAsk(w http.ResponseWriter, r *http.Request) {
	at := number(r, "at")
	if !(at > 0 && at < 180) {
		object(w, errors.New("give an angle between 0° and 180° 2θ"))
		return
	}
	a, err := s.answerOf(r, "", "")
	if err != nil {
		object(w, err)
		return
	}
	defer s.ask()()
	list, err := a.answer.Candidates(r.Context(), at)
	if err != nil {
		object(w, err)
		return
	}
	reply(w, candidatesOf(at, list))
}

// mostFound is how many phases of the collection are listed at once.
const mostFound = 40

func (s *Server) getFind(w http.ResponseWriter, r *http.Request) {
	a, err := s.answerOf(r, "", "")
	if err != nil {
		object(w, err)
		return
	}
	defer s.ask()()
	found, more := a.answer.Find(r.URL.Query().Get("words"), r.URL.Query()["element"], mostFound)
	reply(w, foundOf(found, more))
}

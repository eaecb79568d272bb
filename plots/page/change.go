package page

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"phasetally/xrd/resultfile"
	"phasetally/xrd/session"
)

// postChoose makes a choice about the scan that is shown.
func (s *Server) postChoose(w http.ResponseWriter, r *http.Request) {
	var c session.Choice
	if err := read(r, &c); err != nil {
		object(w, err)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.choose(c); err != nil {
		object(w, err)
		return
	}
	reply(w, s.view())
}

// choose applies a choice to the scan that is shown. The lock is held.
func (s *Server) choose(c session.Choice) error {
	b := s.now()
	if b == nil {
		return errNothing
	}
	values, err := s.paths(c.Values)
	if err != nil {
		return err
	}
	c.Values = values
	var found []session.Phase
	if b.shown != nil {
		found = b.shown.answer.Found()
	}
	if err := b.session.Apply(c, found); err != nil {
		return err
	}
	b.trouble = ""
	s.settle(b)
	return nil
}

// paths puts the paths of files that were given or dropped in the place of their names: no other file can be named from a page.
func (s *Server) paths(values session.Settings) (session.Settings, error) {
	if values == nil {
		return nil, nil
	}
	out := session.Settings{}
	for name, list := range values {
		f, known := session.FieldOf(name)
		if !known || !f.HoldsFile() {
			out[name] = list
			continue
		}
		for _, v := range list {
			file, rest := v, ""
			if i := strings.LastIndexByte(v, '='); f.Kind == session.Scan && i >= 0 {
				file, rest = v[:i], v[i:]
			}
			k := slices.IndexFunc(s.files, func(g fileEntry) bool { return g.Name == file })
			if k < 0 {
				return nil, fmt.Errorf("%s: there is no file %.60q here; drop it on the page first", f.Label, file)
			}
			out[name] = append(out[name], s.files[k].Path+rest)
		}
		if len(list) == 0 {
			out[name] = nil
		}
	}
	return out, nil
}

// move goes to another state of the session that is shown.
func (s *Server) move(to func(b *bench, state int) bool) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var where struct {
			State int `json:"state"`
		}
		if err := read(r, &where); err != nil {
			object(w, err)
			return
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		b := s.now()
		if b == nil || !to(b, where.State) {
			object(w, errors.New("there is nothing to go to"))
			return
		}
		b.trouble = ""
		s.settle(b)
		reply(w, s.view())
	}
}

// postStop stops the fit that runs; its choice is taken back.
func (s *Server) postStop(w http.ResponseWriter, _ *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if b := s.now(); b != nil && b.fit != nil {
		b.fit.stop()
	}
	reply(w, s.view())
}

// postShow shows another scan.
func (s *Server) postShow(w http.ResponseWriter, r *http.Request) {
	var what struct {
		Scan int `json:"scan"`
	}
	if err := read(r, &what); err != nil {
		object(w, err)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if what.Scan < 0 || what.Scan >= len(s.benches) {
		object(w, errors.New("there is no such scan"))
		return
	}
	s.open(what.Scan)
	reply(w, s.view())
}

// open shows a scan and has it answered. The lock is held.
func (s *Server) open(k int) {
	if b := s.now(); b != nil && s.shown != k {
		b.stopAhead()
	}
	s.shown = k
	b := s.benches[k]
	b.used = s.revision
	if b.shown == nil && !b.busy {
		b.trouble = ""
		s.settle(b)
		return
	}
	s.lookAhead(b)
	s.forget()
	s.changed()
	s.keep()
}

// postSave writes the result folder of what is shown.
func (s *Server) postSave(w http.ResponseWriter, r *http.Request) {
	var how struct {
		Replace bool `json:"replace"`
	}
	if err := read(r, &how); err != nil {
		object(w, err)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	b := s.now()
	switch {
	case b == nil || b.shown == nil:
		object(w, errNothing)
		return
	case b.busy:
		object(w, errors.New("a fit is running; save when its numbers are there"))
		return
	}
	folder, err := s.o.Save(b.session.Scan, b.finished(), how.Replace)
	if errors.Is(err, resultfile.ErrExists) {
		http.Error(w, folder+" is there already", http.StatusConflict)
		return
	}
	if err != nil {
		object(w, err)
		return
	}
	b.saved = folder
	s.changed()
	reply(w, s.view())
}

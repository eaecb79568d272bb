package page

import (
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd/session"
)

// getTable sends the fractions as rows of cells; the page makes what a spreadsheet or a slide takes of them.
func (s *Server) getTable(w http.ResponseWriter, r *http.Request) {
	a, err := s.answerOf(r, "", "")
	if err != nil {
		object(w, err)
		return
	}
	reply(w, report.Cells(a.answer.Document))
}

// getFigure sends the pattern, drawn for where it will be shown.
func (s *Server) getFigure(w http.ResponseWriter, r *http.Request) {
	a, err := s.answerOf(r, "", "")
	if err != nil {
		object(w, err)
		return
	}
	q := r.URL.Query()
	style, err := styleOf(q.Get("width"))
	if err != nil {
		object(w, err)
		return
	}
	style.Dark = q.Get("dark") == "true"
	figure, err := plots.Pattern(a.answer.Analysis, style, plots.PatternOptions{})
	if err != nil {
		object(w, err)
		return
	}
	draw, kind := figure.SVG, "image/svg+xml"
	switch q.Get("format") {
	case "svg":
	case "png":
		draw, kind = figure.PNG, "image/png"
	default:
		object(w, errors.New("a figure is svg or png"))
		return
	}
	body, err := draw()
	if err != nil {
		object(w, err)
		return
	}
	s.mu.Lock()
	name := "pattern"
	if b := s.now(); b != nil {
		base := filepath.Base(b.session.Scan)
		name = plainFileName(strings.TrimSuffix(base, filepath.Ext(base))) + "-pattern"
	}
	s.mu.Unlock()
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename*=UTF-8''%s.%s", escapeName(name), q.Get("format")))
	_, _ = w.Write(body)
}

// styleOf reads a width: the name of a medium, or millimetres.
func styleOf(width string) (plots.Style, error) {
	if mm, err := strconv.ParseFloat(width, 64); err == nil {
		return plots.Style{}.Wide(mm)
	}
	medium, err := plots.ParseMedium(width)
	return plots.Style{Medium: medium}, err
}

// escapeName writes a file name as RFC 8187 has it in a header.
func escapeName(name string) string {
	var b strings.Builder
	for _, c := range []byte(name) {
		if c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '.' || c == '_' {
			b.WriteByte(c)
			continue
		}
		fmt.Fprintf(&b, "%%%02X", c)
	}
	return b.String()
}

// A compareView is two answers side by side.
type compareView struct {
	Rows []compareRow  `json:"rows"`
	Same bool          `json:"same"` // one scan
	A    report.Answer `json:"a"`
	B    report.Answer `json:"b"`
	Top  [2]float64    `json:"top"` // the greatest intensity of each
	Span [2][2]float64 `json:"span"`
}

type compareRow struct {
	Name   string `json:"name"`
	A      string `json:"a"`
	B      string `json:"b"`
	Change string `json:"change"`
	Z      string `json:"z"`
}

// getCompare sets two states of scans side by side, each named as scan.state.
func (s *Server) getCompare(w http.ResponseWriter, r *http.Request) {
	defer s.ask()()
	var two [2]*solved
	var scans [2]string
	for i, name := range []string{"a", "b"} {
		scan, state, _ := strings.Cut(r.URL.Query().Get(name), ".")
		a, err := s.answerOf(r, scan, state)
		if err != nil {
			object(w, err)
			return
		}
		two[i], scans[i] = a, scan
	}
	v := compareView{Rows: []compareRow{}, Same: scans[0] == scans[1], A: two[0].words, B: two[1].words}
	for i, a := range two {
		c := a.answer.Curves
		for _, y := range c.Observed {
			v.Top[i] = max(v.Top[i], y)
		}
		if n := len(c.TwoTheta); n > 0 {
			v.Span[i] = [2]float64{c.TwoTheta[0], c.TwoTheta[n-1]}
		}
	}
	for _, d := range session.Compare(two[0].answer.Document, two[1].answer.Document) {
		row := compareRow{Name: report.BelowLine(d.Name), A: withU(d.A, d.UA), B: withU(d.B, d.UB), Change: "–", Z: "–"}
		if d.Change != nil {
			row.Change = fmt.Sprintf("%+.2f", *d.Change)
		}
		if d.Z != nil {
			row.Z = fmt.Sprintf("%+.1f", *d.Z)
		}
		v.Rows = append(v.Rows, row)
	}
	reply(w, v)
}

// withU prints a fraction with its standard uncertainty.
func withU(v, u *float64) string {
	switch {
	case v == nil:
		return "–"
	case u == nil:
		return fmt.Sprintf("%.2f", *v)
	}
	return fmt.Sprintf("%.2f ± %.2f", *v, *u)
}

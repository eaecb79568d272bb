package page

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/session"
)

// A pageView is all that the page shows but the curves.
type pageView struct {
	Revision int         `json:"revision"`
	ReadOnly bool        `json:"read_only"`
	Scans    []scanView  `json:"scans"`
	Shown    int         `json:"shown"` // of Scans; -1 for none
	Files    []fileEntry `json:"files"`
	Unkept   string      `json:"unkept"`
	Work     *workView   `json:"work"` // of the scan that is shown; null for none
}

// A scanView is a line of the list of scans.
type scanView struct {
	Name     string `json:"name"`
	Sentence string `json:"sentence"`
	Busy     bool   `json:"busy"`
	Trouble  string `json:"trouble"`
	Choices  int    `json:"choices"`
}

// A workView is the scan that is shown with its choices.
type workView struct {
	Busy     bool             `json:"busy"`
	BusyMS   int64            `json:"busy_ms"`
	Stale    bool             `json:"stale"` // the answer is of an earlier choice
	Trouble  string           `json:"trouble"`
	State    int              `json:"state"`     // that is chosen
	AnswerID string           `json:"answer_id"` // changes with the answer, so that curves are fetched anew
	Answer   *report.Answer   `json:"answer"`
	Before   []report.Claim   `json:"before"` // claims of the answer before; null for none
	TookMS   int64            `json:"took_ms"`
	ByHand   bool             `json:"by_hand"`
	Phases   []session.Phase  `json:"phases"` // as they are chosen now
	Standard string           `json:"standard"`
	Settings session.Settings `json:"settings"`
	Masks    [][2]float64     `json:"masks"`
	Range    [2]float64       `json:"range"`
	Log      []logView        `json:"log"`
	CanUndo  bool             `json:"can_undo"`
	CanRedo  bool             `json:"can_redo"`
	Command  string           `json:"command"`
	Saved    string           `json:"saved"`
	Sample   string           `json:"sample"`
}

type logView struct {
	State  int    `json:"state"`
	Words  string `json:"words"`
	Onward bool   `json:"onward"`
	Shown  bool   `json:"shown"`
}

// view gathers what the page shows. The lock is held.
func (s *Server) view() pageView {
	v := pageView{Revision: s.revision, ReadOnly: s.o.ReadOnly, Scans: []scanView{}, Shown: -1, Files: []fileEntry{}, Unkept: s.unkept}
	for _, f := range s.files {
		v.Files = append(v.Files, fileEntry{Name: f.Name, Kind: f.Kind, Words: f.Words})
	}
	for _, b := range s.benches {
		v.Scans = append(v.Scans, scanView{Name: filepath.Base(b.session.Scan), Sentence: b.words, Busy: b.busy, Trouble: b.trouble, Choices: len(b.session.Choices())})
	}
	if b := s.now(); b != nil {
		v.Shown, v.Work = s.shown, s.work(b)
	}
	return v
}

func (s *Server) work(b *bench) *workView {
	now := b.session.Now()
	w := &workView{Busy: b.busy, Trouble: b.trouble, State: b.session.At, ByHand: now.Phases != nil, Phases: now.Phases, Settings: s.named(now.Settings),
		Masks: [][2]float64{}, Log: []logView{}, CanUndo: b.session.CanUndo(), CanRedo: b.session.CanRedo(), Command: b.session.Command(), Saved: b.saved,
		Sample: filepath.Base(b.session.Scan)}
	if b.busy {
		w.BusyMS = time.Since(b.began).Milliseconds()
	}
	for _, m := range now.Settings["mask"] {
		if r, ok := spanOf(m); ok {
			w.Masks = append(w.Masks, r)
		}
	}
	if list := now.Settings["range"]; len(list) == 1 {
		w.Range, _ = spanOf(list[0])
	}
	for _, e := range b.session.Log() {
		w.Log = append(w.Log, logView{e.State, s.plainWords(e.Words), e.Onward, e.Shown})
	}
	if a := b.shown; a != nil {
		doc := a.answer.Document
		w.Answer, w.TookMS, w.AnswerID = &a.words, a.took.Milliseconds(), fmt.Sprintf("%d/%p", s.shown, a)
		w.Stale = a.args != keyOf(b.session.Args())
		w.Sample = cmp.Or(plots.SampleName(doc.Scan), w.Sample)
		w.Standard = standardOf(doc)
		if w.Phases == nil {
			w.Phases = a.answer.Found()
		}
	}
	if b.before != nil {
		w.Before = b.before.words.Claims
	}
	return w
}

// standardOrigin is that of a standard that was mixed in: no choice takes it away.
const standardOrigin = "standard"

func standardOf(doc result.Document) string {
	for _, p := range doc.Phases {
		if p.Origin == standardOrigin {
			return p.ID
		}
	}
	return ""
}

// named puts the names of files in the place of their paths, as a page names them.
func (s *Server) named(values session.Settings) session.Settings {
	out := session.Settings{}
	for name, list := range values {
		f, _ := session.FieldOf(name)
		for _, v := range list {
			if f.HoldsFile() {
				v = s.nameOf(v)
			}
			out[name] = append(out[name], v)
		}
	}
	return out
}

// nameOf is the name of a file by its path, which an id may follow.
func (s *Server) nameOf(path string) string {
	file, rest := path, ""
	if i := strings.LastIndexByte(path, '='); i >= 0 {
		file, rest = path[:i], path[i:]
	}
	for _, f := range s.files {
		switch f.Path {
		case path:
			return f.Name
		case file:
			return f.Name + rest
		}
	}
	return path
}

// plainWords takes the folder of dropped files out of what the log says.
func (s *Server) plainWords(words string) string {
	return strings.ReplaceAll(words, filepath.Join(s.o.Keep, dropFolder)+string(filepath.Separator), "")
}

// spanOf reads LO:HI, which the command has accepted before.
func spanOf(text string) (r [2]float64, ok bool) {
	n, err := fmt.Sscanf(strings.TrimSpace(text), "%g:%g", &r[0], &r[1])
	return r, err == nil && n == 2
}

// A candidateView is a phase that could be taken.
type candidateView struct {
	ID      string    `json:"id"`
	Name    string    `json:"name"`
	Formula string    `json:"formula"`
	Text    string    `json:"text"`
	Decide  string    `json:"decide"`
	Lines   []float64 `json:"lines"`
	Allowed bool      `json:"allowed"`
}

type askView struct {
	At         float64         `json:"at"`
	Candidates []candidateView `json:"candidates"`
}

// mostCandidates is how many are listed: who needs more gives elements.
const mostCandidates = 12

func candidatesOf(at float64, list []result.Candidate) askView {
	v := askView{At: at, Candidates: []candidateView{}}
	for _, c := range list[:min(len(list), mostCandidates)] {
		text := fmt.Sprintf("line at %.2f°, %.0f %% of its strongest; %d of %d strong lines have a peak", c.TwoTheta, c.Intensity, c.Seen, c.Expected)
		if c.Significance > 0 {
			text += fmt.Sprintf("; explains %.0f σ of what is left", c.Significance)
		} else {
			text += "; explains nothing of what is left"
		}
		v.Candidates = append(v.Candidates, candidateView{ID: c.ID, Name: report.BelowLine(c.Name), Formula: report.BelowLine(c.Formula), Text: text,
			Decide: c.Decide, Lines: c.Lines, Allowed: c.Inside})
	}
	return v
}

type findView struct {
	Found []candidateView `json:"found"`
	More  bool            `json:"more"`
}

func foundOf(list []session.Reference, more bool) findView {
	v := findView{Found: []candidateView{}, More: more}
	for _, r := range list {
		v.Found = append(v.Found, candidateView{ID: r.ID, Name: report.BelowLine(r.Name), Formula: report.BelowLine(r.Formula), Text: strings.Join(r.Elements, ", "), Allowed: r.Allowed})
	}
	slices.SortStableFunc(v.Found, func(a, b candidateView) int { return cmp.Compare(a.Name, b.Name) })
	return v
}

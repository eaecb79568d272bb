package identify

import (
	"cmp"
	"context"
	"slices"

	"golang.org/x/sync/errgroup"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
	"phasetally/xrd/screen"
)

// An Explanation of a scan is the fitted pattern with its phases, in the order of its Setup.
type Explanation struct {
	Fit       *pattern.Fit // of all matches; nil when nothing was found
	Matches   []Match      // parallel to the phases of the fit
	Coverage  Coverage     // of the scan's peaks by all of them
	Tried     int          // phases that the filter let through
	Watched   int          // of these, on the preparation watch-list
	Threshold float64      // significance that a phase had to reach
	// Radiation is not nil when little is explained and another tube would explain far more.
	Radiation *BetterRadiation
	// Rest is the phase of the whole collection, whatever the filter, that would explain most of the peaks that are left; nil when
	// none would explain several.
	Rest *Rest
	// RestElement is the one element beyond those that were stated whose phases would explain still more of them; nil when there is none.
	RestElement *RestElement
	// Stopped is after how many fits the search was stopped because it had taken the work that it may; 0: it came to its own end.
	Stopped int

	found []peaks.Peak
}

// A Match is a phase that is part of the explanation.
type Match struct {
	Index        int               // in the collection
	Phase        refdata.Phase     // with its lines
	Significance float64           // scale over the standard uncertainty it would have at 0, misfit counted
	Required     bool              // it was asked for, not found
	Outside      bool              // of the stated elements: on the preparation watch-list, and its lines are beyond doubt
	Evidence     result.Evidence   // how well it is established
	Reasons      []Reason          // for that
	Alternatives []Alternative     // that explain its lines about as well
	Same         []string          // ids of other entries of the collection that are the same substance
	Isotypes     []string          // names of phases beyond the collection that have its lines
	Elsewhere    []string          // names of phases with other elements than were stated whose cell it has, while its own is another
	Lines        []pattern.LineFit // expected against observed, ascending angle
	Merit        Merit             // of the places of its lines
	// Chance is how many phases of the collection would explain the same lines by chance, with cells as close to their own;
	// 0 for required phases.
	Chance   float64
	hidden   float64 // upper bound of a Chance that was measured as 0
	measured bool
	shift    float64 // relative change of the edge of its cell that is farthest from its own
	shiftU   float64 // of that, standard uncertainty; 0 at a bound
	scatter  float64 // relative, of the intensities of its own lines about the reference; 0 where few tell
	ratios   float64 // most by which the ratio of two edges differs from its own, relative

	dark        int  // peaks that no firm name accounts for, where its structure forbids the lines of its lattice
	cellNumbers int  // of its cell that the scan tells
	atBound     bool // its cell ended at the bound of what is tried
	outsider    bool // only the watch-list lets it in
	unstated    bool // it has none of the elements that were stated
	stated      bool // elements were stated, or the phase was named
}

// An Alternative explains the lines of a match nearly as well.
type Alternative struct {
	Index int     // in the collection
	ID    string  // of the reference
	Name  string  // of the phase
	Gain  float64 // of its best trial over that of the match: 1 is as good
	// Decide says in words what would tell it from the match.
	Decide string

	ownCell bool // in place of the match its cell is that of its reference
}

// search is the state of one run.
type search struct {
	job        Job
	found      []peaks.Peak
	background []float64 // of the first look
	screen     *screen.Screen
	decoys     *screen.Screen // of phases that are tried at wrong cells; nil before that
	entries    []screen.Entry // that the filter allows
	outside    map[int]bool   // those that only the watch-list lets in, by their place in the collection
	watched    int            // of these, on the preparation watch-list
	threshold  float64
	asked      float64 // significance asked for in the present pass, never below threshold
	matches    []Match
	coverage   Coverage
	fit        *pattern.Fit
	knots      int // background intervals that a full fit chose; 0 before one
	refused    map[int]bool
	dropped    map[int]int     // how often matches were taken out
	wide       map[string]bool // ids of phases whose cell may be as far from their own as is tried
	fits       int             // that were made
	work       float64         // of these
	stopped    int             // fits after which the work was used up; 0 before
	orphaned   [][]float64     // curves of the present fit whose phases have been taken out
}

// share is that of the peak area which the phases found so far account for.
func (s *search) share() float64 { return Judge(s.fit, s.found).Share }

// mostPhases is how many phases an explanation may have. With the right tube, few account for most of a scan.
func (s *search) mostPhases() int {
	if s.job.likely {
		return policy.Effort.TubePhases
	}
	return policy.Effort.Phases
}

// forgive lets phases that were refused be tried again, since much has changed; but not those that were taken out twice.
func (s *search) forgive() {
	s.refused = droppedTwice(s.dropped)
}

// droppedTwice returns what was taken out more than once, by how often each was.
func droppedTwice(dropped map[int]int) map[int]bool {
	out := map[int]bool{}
	for index, times := range dropped {
		if times > 1 {
			out[index] = true
		}
	}
	return out
}

// newSearch returns a search in which nothing is found, and the places of the phases that must be part of it.
func newSearch(job Job) (s *search, required []int) {
	s = &search{job: job, refused: map[int]bool{}, dropped: map[int]int{}, wide: map[string]bool{}, outside: map[int]bool{}, background: firstLook(job.Setup), found: job.peaks()}
	s.job.Setup.Sigma = firstSigma(job.Setup)
	if job.Filter.Elements == (refdata.ElementSet{}) {
		s.entries = make([]screen.Entry, 0, job.Collection.Len())
	}
	for i := range job.Collection.Len() {
		e := job.Collection.Entry(i)
		if contains(job.Filter.Require, e.ID) {
			required = append(required, i)
		} else if job.Filter.allows(e) {
			s.admit(i, e)
		}
	}
	s.threshold = Threshold(len(s.entries))
	s.screen = s.screenOf(job.Setup.Radiation)
	return s, required
}

// require starts the explanation with the phases that must be in it.
func (s *search) require(ctx context.Context, indices []int) error {
	for _, i := range indices {
		p, err := s.job.Collection.Phase(i, s.job.Beam)
		if err != nil {
			return err
		}
		s.matches = append(s.matches, Match{Index: i, Phase: p, Required: true})
	}
	fit, err := pattern.Run(ctx, s.setup(s.matches, nil, nil), pattern.Quick)
	if err != nil {
		return err
	}
	if len(s.matches) > 0 {
		s.fit = fit
	}
	return nil
}

// grow adds phases until none holds.
func (s *search) grow(ctx context.Context) error {
	for len(s.entries) > 0 && len(s.matches) < s.mostPhases() && !s.exhausted() {
		added, err := s.round(ctx)
		if err != nil || !added {
			return err
		}
	}
	return nil
}

// settled reports whether the present explanation is one of a full fit, or was built upon one.
func (s *search) settled() bool { return s.fit != nil && s.knots > 0 }

// round tries candidates in the order of their gain and takes the first that holds, or the rival that fits better.
func (s *search) round(ctx context.Context) (bool, error) {
	residual, variance := s.unexplained()
	list, err := s.candidates(s.view(residual, variance), s.threshold*s.threshold)
	if err != nil {
		return false, err
	}
	least, most := s.threshold, policy.Effort.Refused
	if s.settled() {
		least, most = policy.Search.Promising*s.threshold, policy.Effort.RefusedSettled
		if err := s.refitGains(ctx, list, variance); err != nil {
			return false, err
		}
	}
	insiders, outsiders := s.divide(list)
	for _, group := range [][]candidate{insiders, outsiders} {
		if added, err := s.add(ctx, group, residual, least*least, most); added || err != nil {
			return added, err
		}
	}
	return false, nil
}

// divide parts candidates into those of the stated elements and those that only the watch-list lets in, which come second.
func (s *search) divide(list []candidate) (insiders, outsiders []candidate) {
	for _, c := range list {
		if s.outside[c.index] {
			outsiders = append(outsiders, c)
		} else {
			insiders = append(insiders, c)
		}
	}
	return insiders, outsiders
}

// add tries candidates in their order, down to a gain and until a number of them have been refused in a row, and takes one.
func (s *search) add(ctx context.Context, list []candidate, residual []float64, least float64, most int) (bool, error) {
	refused := 0
	done := map[int]attempt{}
	for k, c := range list {
		if c.Gain < least || refused >= most || s.exhausted() {
			return false, nil
		}
		if s.refused[c.index] {
			continue
		}
		best, err := s.try(ctx, list[k:k+1], residual, done)
		if best != nil {
			best, err = s.try(ctx, rivalsOf(list[k:]), residual, done)
		}
		if err != nil {
			return false, err
		}
		if best != nil {
			s.matches = append(s.matches, Match{Index: best.index, Phase: best.phase})
			s.fit = best.fit
			return true, nil
		}
		s.refused[c.index] = true
		refused++
	}
	return false, nil
}

// refitGains finds anew what candidates gain, when all that the pattern is linear in is fitted with them beside a full fit: the square of
// the significance that they then have.
func (s *search) refitGains(ctx context.Context, list []candidate, variance []float64) error {
	set := s.job.Setup
	set.Start.Values = s.fit.Values()
	var workers errgroup.Group
	workers.SetLimit(s.workers())
	for n := range list {
		workers.Go(func() error {
			c := &list[n]
			z, err := s.fit.SignificanceBeside(ctx, pattern.Calculate(set, c.phase, 1, c.Displacement, c.Stretch), variance)
			c.Gain = z * z
			return err
		})
	}
	err := workers.Wait()
	byGain(list)
	return err
}

// admit lets a phase take part.
func (s *search) admit(i int, e refdata.Entry) {
	s.entries = append(s.entries, screen.Entry{Index: i, SolidSolution: e.SolidSolution, Strong: e.Strong})
	if e.Preparation != "" {
		s.watched++
	}
	if s.job.Filter.outside(e) {
		s.outside[i] = true
	}
}

// entryOf returns the entry of a phase that takes part, by its place in the collection.
func (s *search) entryOf(index int) *screen.Entry {
	k, _ := slices.BinarySearchFunc(s.entries, index, func(e screen.Entry, index int) int { return e.Index - index })
	return &s.entries[k]
}

// screenOf prepares the screening of the scan as one of a radiation.
func (s *search) screenOf(r xrd.Radiation) *screen.Screen {
	return screen.New(s.entries, screen.Scan{TwoTheta: s.job.Setup.TwoTheta, Radiation: r, Workers: s.workers()}, s.job.Setup.Instrument)
}

// settle fits everything fully and drops phases that no longer hold, the weakest first.
func (s *search) settle(ctx context.Context) error {
	for {
		s.tell("fitting all of them together")
		set := s.setup(s.matches, nil, s.leftover())
		set.Start.Knots = 0
		fit, err := pattern.RunWithin(ctx, set, pattern.Full, s.allowance())
		if err != nil {
			return err
		}
		if fit, err = pattern.RoughTexture(ctx, fit); err != nil {
			return err
		}
		s.spend(fit)
		s.fit, s.knots, s.orphaned = fit, fit.Knots, nil
		var failing []int
		for p := range s.matches {
			m := &s.matches[p]
			m.Significance = significance(fit, p)
			if !m.Required && !s.holds(fit, p, s.threshold) {
				failing = append(failing, p)
			}
		}
		if len(failing) == 0 {
			return nil
		}
		s.drop(failing, func(m *Match) float64 { return m.Significance })
	}
}

// drop takes out the half of the failing matches that is least by a worth: one of a pair that share their lines may hold alone.
func (s *search) drop(failing []int, worth func(*Match) float64) {
	for _, p := range slices.Backward(lesserHalf(failing, func(p int) float64 { return worth(&s.matches[p]) })) {
		s.refused[s.matches[p].Index] = true
		s.dropped[s.matches[p].Index]++
		if s.fit != nil {
			s.orphaned = append(s.orphaned, s.fit.Curves[p])
		}
		s.matches = slices.Delete(s.matches, p, p+1)
	}
}

// lesserHalf returns the half of numbers that is least by a worth, the larger half of an odd count, ascending.
func lesserHalf(numbers []int, worth func(int) float64) []int {
	slices.SortFunc(numbers, func(a, b int) int { return cmp.Compare(worth(a), worth(b)) })
	half := numbers[:(len(numbers)+1)/2]
	slices.Sort(half)
	return half
}

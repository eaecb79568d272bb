package analysis

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// ErrWeighed says that weighed mixtures do not tell factors, or that factors do not go with a scan; test with errors.Is.
var ErrWeighed = errors.New("weighed mixtures")

// WeighedAmount is how much of a phase was weighed into a mixture, wt% with standard uncertainty (0: does not matter).
type WeighedAmount struct {
	ID         string  // of the phase
	Percent, U float64 // wt% that was weighed in, and its standard uncertainty
}

// A Mixture is the scan of a mixture that was weighed.
type Mixture struct {
	Job     Job             // the scan of the mixture and how it is to be analysed
	Weighed []WeighedAmount // what it was mixed from
}

// Conditions are what factors hold for: tube, optics and how the specimens were prepared.
type Conditions struct {
	Radiation                     xrd.Radiation // of the tube
	Slit, Geometry, Monochromator string        // as flags take them
	Preparation                   string        // powder, transverse …; empty when not stated
	Grains                        string        // sizes that absorption was corrected for; empty for none
}

// A FactorTable holds factors with the conditions that they hold for and what they were fitted to.
type FactorTable struct {
	quantify.Factors
	Conditions Conditions   // that the factors hold for
	Mixtures   []MixtureRow // that they were fitted to

	// Axes is the texture axis of each phase, by id, that all mixtures share and that scans which are corrected are fitted with: a
	// factor holds for one description of the texture. Phases that are not textured have none.
	Axes map[string][3]int

	// DeltaB is the change of the displacement parameter of each phase, by id, Å², that all mixtures share and that scans which
	// are corrected are fitted with: it is a property of the substance.
	DeltaB map[string]float64
	File   string // it was read from; empty when it was not
	SHA256 string // of the file, hexadecimal
}

// A MixtureRow is a mixture that factors were fitted to. Trial is nil when the others say nothing of it.
type MixtureRow struct {
	File, SHA256 string          // name of the scan and hash of its bytes
	IDs          []string        // of the phases of the mixture
	Trial        *quantify.Trial // parallel to IDs
	Complete     bool            // the scan is explained by what was weighed
	Departs      bool            // it differs from the others by more than they do among themselves
}

// weighedSlack is by how much weighed values may miss 100 wt% together, for their rounding.
const weighedSlack = 0.5

// FitFactors analyses scans of weighed mixtures and fits one factor for each phase; the factor of the reference is 1 (empty:
// that of the most mixtures). A mixture of one phase says nothing and is left out. All must be of one tube, one set of
// optics and one preparation.
func FitFactors(ctx context.Context, mixtures []Mixture, reference string) (FactorTable, error) {
	var t FactorTable
	var used []Mixture
	for i, m := range mixtures {
		here := conditionsOf(m.Job)
		if i == 0 {
			t.Conditions = here
		} else if d := t.Conditions.differences(here); len(d) > 0 {
			return t, fmt.Errorf("%w: %s was not measured like %s (%s); factors hold for one tube, one set of optics and one preparation", ErrWeighed, m.Job.File, mixtures[0].Job.File, strings.Join(d, "; "))
		}
		if err := checkWeighed(m.Weighed); err != nil {
			return t, fmt.Errorf("%s: %w", m.Job.File, err)
		}
		if countWeighed(m.Weighed) < 2 {
			continue
		}
		used = append(used, m)
	}
	if len(used) == 0 {
		return t, fmt.Errorf("%w: pure phases tell no factor; give a mixture of two phases or more", ErrWeighed)
	}
	weighed, err := t.measure(ctx, used)
	if err != nil {
		return t, err
	}
	f, err := quantify.FitFactors(weighed, reference)
	switch {
	case errors.Is(err, quantify.ErrUnlinked):
		return t, fmt.Errorf("%w, so that factors would compare within each group only; weigh one mixture with phases of all groups", err)
	case err != nil:
		return t, err
	}
	t.Factors = f
	trials := quantify.LeaveOneOut(weighed)
	for i, trial := range trials {
		t.Mixtures[i].Trial = trial
	}
	if i, ok := quantify.Departing(weighed); ok {
		t.Mixtures[i].Departs = true
	}
	if err := t.contradiction(weighed, trials); err != nil {
		return t, err
	}
	return t, ctx.Err()
}

// contradiction says that mixtures contradict each other, and which two were perhaps taken for each other; nil when they do not.
func (t FactorTable) contradiction(weighed []quantify.Weighed, trials []*quantify.Trial) error {
	look := "look whether each weighed value stands beside its scan"
	if a, b, ok := t.Exchanged(weighed); !ok && !t.Contradict(trials) {
		return nil
	} else if ok {
		look = fmt.Sprintf("with the values of %s and %s exchanged they agree: look whether each stands beside its scan", t.Mixtures[a].File, t.Mixtures[b].File)
	}
	return fmt.Errorf("%w contradict each other: with one factor a phase their amounts still differ by %.0f %%, far more than lines and mounts explain; %s",
		ErrWeighed, 100*t.Repeatability, look)
}

// measure analyses a mixture with the phases that were weighed.
func (m Mixture) measure(ctx context.Context) (quantify.Weighed, MixtureRow, error) {
	j := m.Job
	j.Phases = nil
	for _, a := range m.Weighed {
		if a.Percent > 0 {
			j.Phases = append(j.Phases, a.ID)
		}
	}
	done, err := measure(ctx, j, given{})
	if err != nil {
		return quantify.Weighed{}, MixtureRow{}, err
	}
	n := len(done.Roles)
	w := quantify.Weighed{Input: done.input, Percent: make([]float64, n), U: make([]float64, n)}
	row := MixtureRow{File: j.File, SHA256: j.SHA256, Complete: done.cover.Verdict == result.Complete}
	for _, a := range m.Weighed {
		k := -1
		if n > 0 {
			k = done.matchOf(a.ID)
		}
		switch {
		case !(a.Percent > 0):
		case k < 0 || done.Roles[k] == quantify.Absent:
			return w, row, fmt.Errorf("%w: %g wt%% of %s were weighed in and the scan does not show it", ErrWeighed, a.Percent, a.ID)
		default:
			w.Percent[k], w.U[k] = a.Percent, a.U
		}
	}
	for k := range n {
		row.IDs = append(row.IDs, done.identified.Matches[k].Phase.ID)
	}
	return w, row, nil
}

// checkWeighed refuses amounts that are not those of a whole mixture.
func checkWeighed(list []WeighedAmount) error {
	var sum float64
	seen := map[string]bool{}
	for _, a := range list {
		id := strings.ToLower(a.ID)
		switch {
		case seen[id]:
			return fmt.Errorf("%w: two values for %s; give one", ErrWeighed, a.ID)
		case !(a.Percent >= 0 && a.Percent <= 100) || !(a.U >= 0 && a.U < 100):
			return fmt.Errorf("%w: %g±%g wt%% of %s; give 0 to 100", ErrWeighed, a.Percent, a.U, a.ID)
		}
		seen[id] = true
		sum += a.Percent
	}
	if !(math.Abs(sum-100) <= weighedSlack) {
		return fmt.Errorf("%w: the weighed values sum to %.4g wt%% and not to 100; give every phase of the mixture", ErrWeighed, sum)
	}
	return nil
}

func countWeighed(list []WeighedAmount) (n int) {
	for _, a := range list {
		if a.Percent > 0 {
			n++
		}
	}
	return n
}

// conditionsOf returns what a job says of the conditions of its scan.
func conditionsOf(j Job) Conditions {
	j = j.withDefaults()
	c := Conditions{Radiation: j.Radiation, Slit: j.Instrument.Slit.String(), Geometry: j.Instrument.Geometry.String(),
		Monochromator: j.Instrument.Monochromator.String(), Preparation: j.Specimen.Section}
	var grains []string
	for _, g := range j.Grains {
		grains = append(grains, fmt.Sprintf("%g:%s", g.Diameter, g.ID))
	}
	slices.Sort(grains)
	c.Grains = strings.Join(grains, ",")
	return c
}

// differences tells in words what other conditions differ in from those of the factors.
func (c Conditions) differences(other Conditions) (out []string) {
	stated := func(s string) string {
		if s == "" {
			return "not stated"
		}
		return s
	}
	for _, x := range []struct{ what, here, there string }{
		{"tube", c.tube(), c.tubeOf(other)}, {"slit", c.Slit, other.Slit}, {"geometry", c.Geometry, other.Geometry},
		{"monochromator", c.Monochromator, other.Monochromator}, {"preparation", c.Preparation, other.Preparation}, {"grains", c.Grains, other.Grains},
	} {
		if x.here != x.there {
			out = append(out, fmt.Sprintf("%s %s against %s", x.what, stated(x.there), stated(x.here)))
		}
	}
	return out
}

func (c Conditions) tube() string { return c.Radiation.Name }

// tubeOf returns the name of this tube where another is the same, whatever it is called.
func (c Conditions) tubeOf(other Conditions) string {
	if c.Radiation.SameTube(other.Radiation) {
		return c.Radiation.Name
	}
	return other.Radiation.Name
}

// checkFactors refuses factors of another tube: what they have taken up, absorption and dispersion, is of that tube.
func (j Job) checkFactors() error {
	if j.Factors == nil || j.Factors.Conditions.Radiation.SameTube(j.Radiation) {
		return nil
	}
	return fmt.Errorf("%w: the factors are those of %s radiation and the scan is of %s; fit factors to mixtures measured with that tube, or leave --factors out",
		ErrWeighed, j.Factors.Conditions.Radiation.Name, j.Radiation.Name)
}

// withFactors is a collection whose reference intensity ratios are corrected.
type withFactors struct {
	identify.Collection
	factors quantify.Factors
}

// Phase implements identify.Collection.
func (c withFactors) Phase(i int, beam refdata.Beam) (refdata.Phase, error) {
	p, err := c.Collection.Phase(i, beam)
	if err != nil {
		return p, err
	}
	p, _ = c.factors.Apply(p)
	return p, nil
}

// sameRatio is by how much, of itself, a reference intensity ratio may differ from that which its factor was fitted for: the
// last digits of tables, not another structure.
const sameRatio = 0.01

// factorsUsed tells which factors an answer rests on; nil for none.
func (m measured) factorsUsed() *result.Factors {
	t := m.job.Factors
	if t == nil {
		return nil
	}
	out := &result.Factors{File: t.File, SHA256: t.SHA256, Reference: t.Reference, Repeatability: result.Number(t.Repeatability), Mixtures: []string{},
		Phases: []result.FactorOf{}, Without: []string{}, Differences: append([]string{}, t.Conditions.differences(conditionsOf(m.job))...)}
	for _, x := range t.Mixtures {
		out.Mixtures = append(out.Mixtures, x.File)
	}
	for _, i := range m.order {
		p := m.identified.Matches[i].Phase
		f, u, ok := t.Of(p.ID)
		switch {
		case ok:
			out.Phases = append(out.Phases, result.FactorOf{ID: p.ID, Value: f.Value, U: result.Number(f.Value * u)})
			if d := p.RIR.Value/f.Value/f.RIR - 1; !(math.Abs(d) <= sameRatio) {
				out.Differences = append(out.Differences, fmt.Sprintf("reference intensity ratio of %s %.3g against %.3g", p.ID, p.RIR.Value/f.Value, f.RIR))
			}
		case m.Roles[i] != quantify.Preparation:
			out.Without = append(out.Without, p.ID)
		}
	}
	return out
}

package pattern

import (
	"context"
	"math"

	"gonum.org/v1/gonum/floats"

	"phasetally/xrd/leastsq"
)

// A Fit is a fitted model. Slices are parallel to the points or to the phases of its Setup.
type Fit struct {
	Setup      Setup          // that was fitted
	Status     leastsq.Status // how the fit ended
	Iterations int            // of all stages
	Work       float64        // that it took: iterations × points that the lines reach, the same on any machine
	Parameters []Parameter    // nonlinear, fixed ones included
	Scales     []float64      // S_p, counts × degrees
	ScaleCov   [][]float64    // covariance of the scales
	FreeCov    [][]float64    // covariance of the free parameters, in their order among Parameters
	ZeroU      []float64      // standard uncertainty that a scale of 0 would have
	BlankScale float64        // of the scan of the mount; 0 without one
	Fitted     []float64      // intensity at every point
	Background []float64      // with the blank
	Curves     [][]float64    // contribution of each phase
	Variance   []float64      // of each point, with misfit
	Noise      []float64      // of each point, without misfit
	Kappa      float64        // relative misfit per point
	Knots      int            // background intervals
	Agreement  Agreement      // of fit and scan
	// Undetermined names parameters that the data do not determine, Correlated pairs with |ρ| > 0.95.
	Undetermined []string
	Correlated   []Correlation // pairs of parameters that the scan hardly separates

	most  float64 // work that it may take; 0: any
	model *Model
	// The misfit that the weights allow for, and that those of the last refinement allowed for.
	allows, allowed float64

	solver leastsq.SeparableSolver
	last   leastsq.SeparableResult
	pulls  []float64     // see WidthPull
	common *CommonDeltaB // nil for none
	buffer []float64     // for the standard uncertainties of points
}

// A Correlation is a pair of parameters that the data hardly separate.
type Correlation struct {
	A, B   string  // names of the two parameters
	Rho    float64 // coefficient, −1 to 1
	Scales [2]int  // the phases whose scales these are; -1 and -1 when one of them is another parameter
}

// Effort says how far a fit goes.
type Effort int

// The efforts. Quick leaves widths, tails and texture alone and keeps the background, for comparing candidates.
const (
	Full Effort = iota
	Quick
	compare // of textures: only these and displacement parameters are fitted, as far as a comparison needs
)

// stage is a set of parameters released together, and how closely they are refined.
type stage struct {
	accept     func(Parameter) bool
	tolerance  float64
	cycles     int     // of re-weighting
	trust      float64 // most misfit that weights allow for: what is left while parameters are held is no misfit yet
	background bool    // the number of background intervals is chosen after the first cycle, unless it is given
}

// finestTolerance is how closely the last refinement goes, and settlingTolerance how closely those before it, which only
// renew the weights.
const (
	finestTolerance   = 1e-7
	settlingTolerance = 1e-4
)

// stages release parameters in the order in which the data come to support them. Values from an earlier fit save what that
// fit has done; the first stage then only finds the scales, for weights that know the pattern.
func (s Setup) stages(effort Effort) []stage {
	none := func(Parameter) bool { return false }
	position := func(p Parameter) bool { return p.Kind == Displacement }
	first := func(p Parameter) bool {
		return p.Kind == Displacement || p.Kind == WidthW || p.Kind == Size || p.Kind >= CellA && p.Kind <= CellGamma
	}
	all := func(p Parameter) bool { return p.Kind != Footprint && (p.Kind != Zero || p.Prior.Sigma > 2e-4) }
	switch {
	case effort == compare:
		intensity := func(p Parameter) bool { return p.Kind == Thermal || p.Kind == TextureLogR }
		return []stage{{none, 1, 1, s.Start.Kappa, false}, {intensity, 1e-3, 1, maxKappa, false}}
	case effort == Quick:
		return []stage{{first, 1e-3, 2, maxKappa, false}} // twice: the first weights know no misfit
	case s.Start.From == FullFit:
		return []stage{{none, 1, 1, s.Start.Kappa, true}, {all, settlingTolerance, 2, 0.2, false}}
	case s.Start.From == LikeFit:
		return []stage{{position, 1e-2, 1, 0.1, true}, {all, settlingTolerance, 2, 0.2, false}}
	case s.Start.From == QuickFit:
		return []stage{{none, 1, 1, 0.1, false}, {first, 1e-3, 1, 0.1, true}, {all, settlingTolerance, 2, 0.2, false}}
	}
	return []stage{{position, 1e-2, 1, 0.1, false}, {first, 1e-3, 2, 0.1, true}, {all, settlingTolerance, 2, 0.2, false}}
}

// Run fits the model of a setup. A fit that does not converge is a Status; ErrSetup is for input that nothing can start
// from, and the context's error for a fit that was stopped.
func Run(ctx context.Context, s Setup, effort Effort) (*Fit, error) {
	return fit(ctx, s, effort, 0, false)
}

// RunWithin is Run of a fit that may take so much work (Fit.Work). One that asks for more ends where it is, not converged.
func RunWithin(ctx context.Context, s Setup, effort Effort, most float64) (*Fit, error) {
	return fit(ctx, s, effort, most, false)
}

// fit is RunWithin, of any work for 0, with a background that is bounded, or not unless it must be.
func fit(ctx context.Context, s Setup, effort Effort, most float64, bounded bool) (*Fit, error) {
	m, err := newModel(s, bounded)
	if err != nil {
		return nil, err
	}
	f := newFit(m)
	f.most = most
	stages := s.stages(effort)
	for i, st := range stages {
		if err := f.stage(ctx, st, effort == Quick && i == len(stages)-1); err != nil {
			return nil, err
		}
	}
	switch effort {
	case compare: // covariances and curves are not asked for
		f.Parameters, f.Agreement = m.Parameters(), agreement(f)
		return f, nil
	case Full:
		if err := f.settle(ctx); err != nil {
			return nil, err
		}
		if f.mustBound() {
			f.Work = m.work(f.Iterations)
			g, err := fit(ctx, s, effort, f.workLeft(), true)
			if err == nil {
				g.Work += f.Work
				g.most = most
			}
			return g, err
		}
	}
	f.finish()
	return f, nil
}

// stage releases the parameters of a stage and refines them with renewed weights; the last one of a fit brings uncertainties.
func (f *Fit) stage(ctx context.Context, st stage, last bool) error {
	m := f.model
	m.release(func(p Parameter) bool {
		return st.accept(p) && !m.known(p)
	})
	for c := range st.cycles {
		tolerance := st.tolerance
		if c < st.cycles-1 {
			tolerance *= 10 // the next weights move the minimum by more
		}
		if err := f.refine(ctx, tolerance, last && c == st.cycles-1); err != nil {
			return err
		}
		f.reweigh(st.trust)
		if st.background && c == 0 && m.setup.Start.Knots == 0 {
			if err := f.chooseBackground(ctx); err != nil {
				return err
			}
		}
	}
	return nil
}

const (
	settleCycles = 6
	settled      = 0.02 // relative change of the misfit at which weights are steady
)

// settle refines with renewed weights until the misfit that they allow for is that of the fit, and then to the end.
func (f *Fit) settle(ctx context.Context) error {
	f.holdFaint()
	for range settleCycles {
		if f.exhausted() || math.Abs(f.Kappa-f.allowed) <= settled*f.allowed+1e-3 {
			break
		}
		if err := f.refine(ctx, settlingTolerance, false); err != nil {
			return err
		}
		f.reweigh(maxKappa)
	}
	if err := f.refine(ctx, finestTolerance, true); err != nil {
		return err
	}
	f.reweigh(maxKappa)
	return nil
}

// faintSigmas is how far, in standard uncertainties of a pattern alone, a phase must stand above nothing to tell its cell,
// widths, displacement parameter and texture (common practice). A fainter one would trade them for its scale without end.
const faintSigmas = 4

// holdFaint holds the parameters of phases that are too faint to tell them. Phases that only others hide keep theirs.
func (f *Fit) holdFaint() {
	faint := make([]bool, len(f.Scales))
	for p, column := range f.columns() {
		var information float64
		for i, v := range column {
			information += v * v / f.Variance[i]
		}
		faint[p] = f.Scales[p]*math.Sqrt(information) < faintSigmas
	}
	f.model.release(func(p Parameter) bool { return p.Free && (p.Phase < 0 || !faint[p.Phase]) })
}

func newFit(m *Model) *Fit {
	n := len(m.setup.TwoTheta)
	f := &Fit{Setup: m.setup, model: m, Kappa: m.setup.Start.Kappa, Variance: make([]float64, n), Noise: make([]float64, n), Background: make([]float64, n)}
	for i, s := range m.setup.Sigma {
		f.Noise[i] = s * s
		if m.setup.ExtraVariance != nil {
			f.Noise[i] += m.setup.ExtraVariance[i]
		}
		f.Variance[i] = f.Noise[i]
	}
	return f
}

// uncertainties stores the covariance of the last result by parameter and phase.
func (f *Fit) uncertainties() {
	m, cov := f.model, f.last.Covariance
	linear, nonlinear := m.linear(), len(m.free)
	size := linear + nonlinear
	for i := range m.params {
		m.params[i].U = 0
	}
	f.FreeCov = make([][]float64, nonlinear)
	for i, k := range m.free {
		row := cov[(linear+i)*size : (linear+i+1)*size]
		m.params[k].U = math.Sqrt(math.Max(0, row[linear+i]))
		f.FreeCov[i] = append([]float64(nil), row[linear:]...)
	}
	np := len(m.phases)
	f.ScaleCov = make([][]float64, np)
	f.ZeroU = make([]float64, np)
	f.pulls = make([]float64, np)
	f.common = f.commonDeltaB(cov)
	for i := range np {
		f.pulls[i] = f.widthPull(i, cov)
		f.ScaleCov[i] = append([]float64(nil), cov[i*size:i*size+np]...)
		f.ZeroU[i] = math.Sqrt(math.Max(0, f.last.ZeroVariance[i]))
	}
}

// curves fills the contribution of each phase.
func (f *Fit) curves() {
	f.Curves = f.columns()
	f.Correlated = f.overlaps(f.Curves)
	for j, c := range f.Scales {
		floats.Scale(c, f.Curves[j])
	}
}

// judge names what the data do not settle.
func (f *Fit) judge() {
	ids := f.ids()
	linear := f.model.linear()
	size := linear + len(f.model.free)
	name := func(k int) string {
		switch {
		case k < len(ids):
			return scaleName(ids[k])
		case k < linear:
			return "background"
		}
		return f.model.params[f.model.free[k-linear]].Name(ids)
	}
	f.Undetermined = nil
	for _, k := range f.last.Undetermined {
		f.Undetermined = append(f.Undetermined, name(k))
	}
	cov := f.last.Covariance
	for a := range size {
		for b := max(a+1, linear); b < size; b++ {
			d := cov[a*size+a] * cov[b*size+b]
			if d > 0 {
				if rho := cov[a*size+b] / math.Sqrt(d); math.Abs(rho) > almostOne {
					f.Correlated = append(f.Correlated, Correlation{name(a), name(b), rho, [2]int{-1, -1}})
				}
			}
		}
	}
}

func (f *Fit) ids() []string { return f.model.ids() }

// finish computes what only the end of a fit is asked for, and lets go of its memory.
func (f *Fit) finish() {
	f.uncertainties()
	f.curves()
	f.judge()
	f.Parameters = f.model.Parameters()
	f.Knots = len(f.model.background) - 3
	f.Work += f.model.work(f.Iterations)
	f.Agreement = agreement(f)
	f.solver, f.last, f.buffer = leastsq.SeparableSolver{}, leastsq.SeparableResult{}, nil
}

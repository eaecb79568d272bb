package structure

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// A group is a space group: operators one for each point operator, and centring translations (the first is 0). Their products are
// all operators.
type group struct {
	cosets   []Operator
	centring [][3]float64
}

// maxOrder is the largest number of operators: 192 in the conventional cells, more in unusual supercells.
const maxOrder = 1024

// ErrGroup says that operators generate no space group; test with errors.Is.
var ErrGroup = errors.New("operators form no space group")

// order returns the number of operators.
func (g *group) order() int { return len(g.cosets) * len(g.centring) }

// operators returns all operators: for every centring translation every coset.
func (g *group) operators() []Operator {
	all := make([]Operator, 0, g.order())
	for _, c := range g.centring {
		for _, op := range g.cosets {
			for i := range op.T {
				op.T[i] = wrap(snapFine(op.T[i] + c[i]))
			}
			all = append(all, op)
		}
	}
	return all
}

func sameTranslation(a, b [3]float64) bool {
	for i := range a {
		d := a[i] - b[i]
		if d -= math.Round(d); math.Abs(d) > 1e-3 {
			return false
		}
	}
	return true
}

// add puts an operator into the group and reports whether it was new.
func (g *group) add(op Operator) (bool, error) {
	i := slices.IndexFunc(g.cosets, func(c Operator) bool { return c.R == op.R })
	if i < 0 {
		if len(g.cosets) >= 48 {
			return false, fmt.Errorf("%w: more than 48 rotations", ErrGroup)
		}
		g.cosets = append(g.cosets, op)
		return true, nil
	}
	var t [3]float64
	for k := range t {
		t[k] = wrap(snapFine(op.T[k] - g.cosets[i].T[k]))
	}
	if slices.ContainsFunc(g.centring, func(c [3]float64) bool { return sameTranslation(c, t) }) {
		return false, nil
	}
	if len(g.centring)*len(g.cosets) >= maxOrder {
		return false, fmt.Errorf("%w: more than %d operators", ErrGroup, maxOrder)
	}
	g.centring = append(g.centring, t)
	return true, nil
}

// generate closes a set of operators. It returns ErrGroup when that leads beyond 48 rotations or maxOrder operators.
func generate(generators []Operator) (*group, error) {
	g := &group{cosets: []Operator{identity}, centring: [][3]float64{{}}}
	for _, op := range generators {
		if _, err := g.add(op); err != nil {
			return nil, err
		}
	}
	for changed := true; changed; {
		changed = false
		for i := 0; i < len(g.cosets); i++ {
			for j := 0; j < len(g.cosets); j++ {
				grown, err := g.add(g.cosets[i].after(g.cosets[j]))
				if err != nil {
					return nil, err
				}
				changed = changed || grown
			}
		}
		for i := 0; i < len(g.centring); i++ {
			for _, op := range slices.Clone(g.cosets) {
				grown, err := g.add(Operator{identity.R, Operator{R: op.R}.Apply(g.centring[i])}.wrapped())
				if err != nil {
					return nil, err
				}
				changed = changed || grown
			}
			for j := 0; j <= i; j++ {
				sum := Operator{identity.R, g.centring[i]}.after(Operator{identity.R, g.centring[j]})
				grown, err := g.add(sum)
				if err != nil {
					return nil, err
				}
				changed = changed || grown
			}
		}
	}
	return g, nil
}

func (o Operator) wrapped() Operator {
	for i := range o.T {
		o.T[i] = wrap(snapFine(o.T[i]))
	}
	return o
}

// laue returns the rotations of the Laue group without the inversion: the proper rotations of the point group with inversion added.
func (g *group) laue() [][9]int {
	var proper [][9]int
	for _, op := range g.cosets {
		r := op.R
		if determinant(r) < 0 {
			r = negated(r)
		}
		if !slices.Contains(proper, r) {
			proper = append(proper, r)
		}
	}
	return proper
}

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

// maxOrder is the largest number of operators: 192 in the conventional cells, twice that for doubled cells.
const maxOrder = 384

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

// same reports whether two groups have the same operators.
func (g *group) same(other *group) bool {
	if g.order() != other.order() || len(g.cosets) != len(other.cosets) {
		return false
	}
	for _, op := range other.operators() {
		if grown, err := (&group{slices.Clone(g.cosets), slices.Clone(g.centring)}).add(op); grown || err != nil {
			return false
		}
	}
	return true
}

// alike reports whether two groups have the same rotations and leave out the same reflections, as one group does wherever its origin is.
// Indices up to 6 show every screw axis and glide plane.
func (g *group) alike(other *group) bool {
	for _, op := range other.cosets {
		if len(g.cosets) != len(other.cosets) || !slices.ContainsFunc(g.cosets, func(c Operator) bool { return c.R == op.R }) {
			return false
		}
	}
	absent := func(g *group, h, k, l int) bool { return !g.centred(h, k, l) || g.extinct(h, k, l) }
	for h := -6; h <= 6; h++ {
		for k := -6; k <= 6; k++ {
			for l := 0; l <= 6; l++ {
				if absent(g, h, k, l) != absent(other, h, k, l) {
					return false
				}
			}
		}
	}
	return true
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
		g.cosets = append(g.cosets, op)
		return true, g.checkOrder()
	}
	var t [3]float64
	for k := range t {
		t[k] = wrap(snapFine(op.T[k] - g.cosets[i].T[k]))
	}
	if slices.ContainsFunc(g.centring, func(c [3]float64) bool { return sameTranslation(c, t) }) {
		return false, nil
	}
	g.centring = append(g.centring, t)
	return true, g.checkOrder()
}

func (g *group) checkOrder() error {
	switch {
	case len(g.cosets) > 48:
		return fmt.Errorf("%w: more than 48 rotations", ErrGroup)
	case g.order() > maxOrder:
		return fmt.Errorf("%w: more than %d operators", ErrGroup, maxOrder)
	}
	return nil
}

// generate closes a set of operators. It returns ErrGroup when that leads beyond 48 rotations or maxOrder operators. Operators that earlier
// ones generate already, most of a complete list, cost only a look-up.
func generate(operators []Operator) (*group, error) {
	g := &group{cosets: []Operator{identity}, centring: [][3]float64{{}}}
	var generators []Operator
	for _, op := range operators {
		grown, err := g.add(op)
		if err != nil {
			return nil, err
		}
		if grown {
			generators = append(generators, op)
			if err := g.close(generators); err != nil {
				return nil, err
			}
		}
	}
	return g, nil
}

// close adds products with the generators until there are no new ones.
func (g *group) close(generators []Operator) error {
	for before := 0; before < g.order(); {
		before = g.order()
		for i := 0; i < len(g.cosets); i++ {
			for _, op := range generators {
				if _, err := g.add(g.cosets[i].after(op)); err != nil {
					return err
				}
			}
		}
		for i := 0; i < len(g.centring); i++ {
			c := Operator{identity.R, g.centring[i]}
			for _, op := range generators {
				if _, err := g.add(Operator{identity.R, Operator{R: op.R}.Apply(c.T)}.wrapped()); err != nil {
					return err
				}
			}
			for j := 0; j <= i; j++ {
				if _, err := g.add(c.after(Operator{identity.R, g.centring[j]})); err != nil {
					return err
				}
			}
		}
	}
	return nil
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

package xrd

import "gonum.org/v1/gonum/integrate/quad"

// An AxialNode is a ray of a line that axial divergence smears: it is found off its place by Shift of the length of the tail, and has Weight of
// the line's area.
type AxialNode struct{ Shift, Weight float64 }

// AxialRule returns an average over the tail for 1, 2, 4 or 8 nodes, nothing for another number: rays leave the equatorial plane by u, evenly
// spread over 0 to 1, and are shifted by u² of the tail. The weights and squares of the n positive abscissae of the Gauss–Legendre rule of 2n
// points on −1 to 1 give the moments of u² up to the (2n − 1)th exactly. The caller must not change it.
func AxialRule(nodes int) []AxialNode { return axialRules[nodes] }

var axialRules = map[int][]AxialNode{1: axialRule(1), 2: axialRule(2), 4: axialRule(4), 8: axialRule(8)}

func axialRule(nodes int) (rule []AxialNode) {
	x, w := make([]float64, 2*nodes), make([]float64, 2*nodes)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	for i, v := range x {
		if v > 0 {
			rule = append(rule, AxialNode{v * v, w[i]})
		}
	}
	return rule
}

// AxialNodes returns how many nodes a tail of so many widths of the line needs, so that profiles are right to 7e-4 of their height; of tails
// longer than 2 widths they are less exact.
func AxialNodes(widths float64) int {
	switch {
	case widths < 0.03:
		return 1
	case widths < 0.25:
		return 2
	case widths < 0.75:
		return 4
	}
	return 8
}

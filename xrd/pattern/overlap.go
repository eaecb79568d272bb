package pattern

// almostOne is the correlation beyond which two parameters are named as hardly separable.
const almostOne = 0.95

// overlaps returns the pairs of phases whose patterns (one column each, unit scale) are nearly the same: the scales of
// two columns alone correlate by minus the cosine of the angle between them, also where one of them was found to be 0.
func (f *Fit) overlaps(columns [][]float64) []Correlation {
	ids := f.ids()
	var out []Correlation
	for a, u := range columns {
		for b := a + 1; b < len(columns); b++ {
			if cos := Likeness(u, columns[b], f.Variance); cos > almostOne {
				out = append(out, Correlation{scaleName(ids[a]), scaleName(ids[b]), -cos, [2]int{a, b}})
			}
		}
	}
	return out
}

// ScaleName returns the name by which a fit lists the scale of phase number p, as among Undetermined.
func (f *Fit) ScaleName(p int) string { return scaleName(f.Setup.Phases[p].ID) }

func scaleName(id string) string { return "scale of " + id }

package plots

import "gonum.org/v1/plot/vg/recorder"

// Golden compares a picture with the golden one of a name, for tests from outside.
var Golden = golden

// Texts returns every text of the figure in drawing order.
func (f *Figure) Texts() []string {
	var out []string
	for _, a := range f.record.Actions {
		if s, ok := a.(*recorder.FillString); ok {
			out = append(out, s.String)
		}
	}
	return out
}

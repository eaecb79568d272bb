package identify_test

import (
	"context"
	"fmt"
	"math"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
)

// A scan is explained with the whole starter collection. Here it is drawn by package pattern; a real one comes from
// package scanfile.
func Example() {
	copper, _ := xrd.ParseRadiation("Cu")
	lib := library.Starter()
	set := pattern.Setup{Gain: 1, Radiation: copper, Instrument: xrd.DefaultInstrument()}
	for t := 20.0; t <= 100; t += 0.02 {
		set.TwoTheta = append(set.TwoTheta, t)
		set.Intensity = append(set.Intensity, 50)
		set.Sigma = append(set.Sigma, math.Sqrt(50))
	}
	beam := refdata.Beam{Radiation: copper, MaxTwoTheta: 103}
	for id, scale := range map[string]float64{"nickel": 300, "bunsenite": 40} {
		i, _ := lib.Find(id)
		phase, _ := lib.Phase(i, beam)
		for k, y := range pattern.Calculate(set, phase, scale, 0.05, 0) {
			set.Intensity[k] += y
		}
	}
	out, err := identify.Run(context.Background(), identify.Job{Setup: set, Beam: beam, Collection: lib})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, m := range out.Matches {
		fmt.Printf("%s: %s\n", m.Phase.Name, m.Evidence)
	}
	// Output:
	// nickel: established
	// bunsenite: established
}

func ExampleExplain() {
	for _, s := range identify.Explain(library.Starter(), identify.Filter{}, 26.64, 0.03, 1.5405929)[:1] {
		fmt.Printf("%s has a line at %.2f°, number %d of its strongest\n", s.ID, s.TwoTheta, s.Rank)
	}
	// Output:
	// quartz has a line at 26.64°, number 1 of its strongest
}

// The more phases compete, the more standard uncertainties one must stand above nothing.
func ExampleThreshold() {
	for _, tried := range []int{100, 500000} {
		fmt.Printf("of %d phases: %.1f\n", tried, identify.Threshold(tried))
	}
	// Output:
	// of 100 phases: 4.8
	// of 500000 phases: 6.3
}

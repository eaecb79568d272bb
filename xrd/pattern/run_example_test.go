package pattern_test

import (
	"context"
	"fmt"
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// A list of three lines, drawn 0.1 mm below the focusing plane on a flat background, is fitted again.
func ExampleRun() {
	radiation, _ := xrd.ParseRadiation("Cu")
	list := refdata.Phase{ID: "invented", Lines: []refdata.Line{{D: 2.5, Intensity: 100}, {D: 2.0, Intensity: 60}, {D: 1.4, Intensity: 30}}}
	s := pattern.Setup{Radiation: radiation, Instrument: xrd.DefaultInstrument(), Gain: 1}
	for angle := 30.0; angle < 80; angle += 0.04 {
		s.TwoTheta = append(s.TwoTheta, angle)
		s.Sigma = append(s.Sigma, math.Sqrt(20))
	}
	s.Intensity = make([]float64, len(s.TwoTheta))
	for i, y := range pattern.Calculate(s, list, 100, 0.1, 0) {
		s.Intensity[i] = 20 + y
	}
	s.Phases = []refdata.Phase{list}

	f, err := pattern.Run(context.Background(), s, pattern.Full)
	if err != nil {
		fmt.Println(err)
		return
	}
	shift, _ := f.Get(pattern.Displacement, -1)
	fmt.Printf("scale %.0f, surface %.2f mm low\n", f.Scales[0], shift.Value)

	s.Sigma[0] = 0
	_, err = pattern.Run(context.Background(), s, pattern.Full)
	fmt.Println(err)
	// Output:
	// scale 100, surface 0.10 mm low
	// pattern: unusable input: point 0, intensity 20 with uncertainty 0 at 30°
}

package simulate_test

import (
	"fmt"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/simulate"
)

// A scan of a mixture as it comes out on average, and one that is counted; the same seed counts the same.
func ExampleRun() {
	copper, _ := xrd.ParseRadiation("Cu")
	lib := library.Starter()
	job := simulate.Job{Radiation: copper, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 80, Step: 0.02, Time: 1, Rate: 5000, Background: 20}
	for id, wt := range map[string]float64{"corundum": 70, "zincite": 30} {
		k, _ := lib.Find(id)
		phase, err := lib.Phase(k, refdata.Beam{Radiation: copper})
		if err != nil {
			fmt.Println(err)
			return
		}
		job.Components = append(job.Components, simulate.Component{Phase: phase, WeightPercent: wt})
	}
	scan, err := simulate.Run(job)
	if err != nil {
		fmt.Println(err)
		return
	}
	one, again := simulate.Count(scan.Expected, 7), simulate.Count(scan.Expected, 7)
	fmt.Println(len(scan.TwoTheta), "points, the same counts:", one[1234] == again[1234])
	job.Step = 0
	_, err = simulate.Run(job)
	fmt.Println(err)
	// Output:
	// 3001 points, the same counts: true
	// cannot be simulated: step 0; give 0.0001 to 1°
}

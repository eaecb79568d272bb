package plan_test

import (
	"context"
	"fmt"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/plan"
)

// What would a scan of 2 s a step show of 3 wt% cuprite in copper, and how long must it be for 1 wt%?
func ExampleRun() {
	cu, _ := xrd.ParseRadiation("Cu")
	lib, tube := library.Starter(), plan.Tube{Radiation: cu}
	for _, id := range []string{"copper", "cuprite"} {
		k, _ := lib.Find(id)
		phase, err := lib.Phase(k, refdata.Beam{Radiation: cu})
		if err != nil {
			fmt.Println(err)
			return
		}
		tube.Phases = append(tube.Phases, phase)
	}
	p, err := plan.Run(context.Background(), plan.Request{
		WeightPercent: []float64{97, 3}, Tubes: []plan.Tube{tube}, Instrument: xrd.DefaultInstrument(), Section: "powder",
		Lo: 25, Hi: 100, Step: 0.02, Time: 2, Rate: 4000, Background: 20, WantedLimit: 1,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	oxide := p.Phases[1]
	fmt.Printf("the strongest line of %s is at %.1f°\n", oxide.Name, oxide.Strongest)
	fmt.Println("seen:", *oxide.Limit < oxide.WeightPercent, "and in a shorter scan:", *oxide.TimeForLimit < 2)
	fmt.Println(p.Checklist[0])
	// Output:
	// the strongest line of cuprite is at 36.4°
	// seen: true and in a shorter scan: true
	// Mount flush: the surface within 0.05 mm of the reference plane, level.
}

// A mixture is planned from its chemistry: bronze of 88 wt% copper, as α with 8 wt% tin and ε with 38.4.
func ExampleAmounts() {
	phase := func(name string, tin float64) refdata.Phase {
		return refdata.Phase{Name: name, Composition: []refdata.ElementShare{{Symbol: "Cu", MassFraction: 1 - tin}, {Symbol: "Sn", MassFraction: tin}}}
	}
	w, err := plan.Amounts([]refdata.Phase{phase("α", 0.08), phase("ε", 0.384)}, []plan.Element{{Symbol: "Cu", WeightPercent: 88, U: 0.3}, {Symbol: "Sn", WeightPercent: 12, U: 0.3}})
	fmt.Println(w, err)
	// Output: [86.84 13.16] <nil>
}

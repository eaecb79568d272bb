package analysis_test

import (
	"context"
	"fmt"
	"os"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
	"phasetally/xrd/scanfile"
)

// A scan file is read and analysed with the reference data of the program: which phases, how much, how sure.
func ExampleRun() {
	file, err := os.Open("../../testdata/bushing-aged.xy") // invented
	if err != nil {
		fmt.Println(err)
		return
	}
	defer file.Close()
	scan, err := scanfile.Read(file, "bushing-aged.xy")
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := analysis.Run(context.Background(), analysis.Job{
		Measurement: analysis.Measurement{Scan: scan, File: "bushing-aged.xy"},
		Search:      analysis.Search{Collection: library.Starter()},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	var sum float64
	for _, p := range r.Document.Phases { // the largest first
		fmt.Printf("%s: %s\n", p.Name, p.Evidence)
		sum += *p.WeightPercent // with an interval: WeightPercentLo to WeightPercentHi
	}
	fmt.Printf("%.0f wt%%, %s\n", sum, r.Document.Explanation.Verdict)
	// Output:
	// bronze (α): established
	// Cu6Sn5 (η): established
	// Cu3Sn (ε): established
	// cuprite: established
	// 100 wt%, complete
}

package peaks_test

import (
	"fmt"
	"phasetally/peaks"
	"phasetally/xrd/xrdtest"
	"testing"
)

func TestDbg(t *testing.T) {
	for seed := range uint64(12) {
		p := xrdtest.Pattern{Lo: 8, Hi: 120, Step: 0.02, Background: airAndHalo(1e6)}
		p.Lines = xrdtest.Spread(seed, 40, 12, 118, 200, 4e4)
		f := peaks.Find(p.Scan(t, seed), copper, peaks.Settings{})
		fmt.Println("W", f.Width, f.Noise, len(f.Peaks))
	}
}

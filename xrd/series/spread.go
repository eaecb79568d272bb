package series

import (
	"math"

	"phasetally/xrd/result"
)

// summarise gives every phase its mean, standard deviation and extremes over the scans that show it, which tell more of
// independent specimens than the first and the last do. The standard deviation is that of a sample (n − 1 below the sum of
// squares) and holds what the specimens differ by and the repeatability of each. A scan that is given twice counts once.
func summarise(s *result.Series) {
	again := s.Repeats()
	for k := range s.Phases {
		p := &s.Phases[k]
		var v []float64
		for i, e := range s.Scans {
			if e.Error != "" || k >= len(e.Phases) || again[i] || e.Phases[k].Evidence == result.NotJudged {
				continue
			}
			p.Answers++
			if share := e.Phases[k]; share.Detected {
				p.Seen++
				if share.WeightPercent != nil {
					v = append(v, *share.WeightPercent)
				}
			}
		}
		if len(v) == 0 {
			continue
		}
		sum, least, most := 0.0, math.Inf(1), math.Inf(-1)
		for _, x := range v {
			sum, least, most = sum+x, math.Min(least, x), math.Max(most, x)
		}
		mean := sum / float64(len(v))
		p.Mean, p.Least, p.Most = result.Number(mean), result.Number(least), result.Number(most)
		if len(v) < 2 {
			continue
		}
		squares := 0.0
		for _, x := range v {
			squares += (x - mean) * (x - mean)
		}
		p.Deviation = result.Number(math.Sqrt(squares / float64(len(v)-1)))
	}
}

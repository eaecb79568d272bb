package series

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// A scan stands out when its misfit lies this many robust standard deviations of ln χ² above the median of the series
// and is this many times as large (common practice: 3.5 deviations from the median; the factor keeps a very even
// series from flagging what does not matter).
const (
	outlierDeviations = 3.5
	outlierFactor     = 1.5
	madToSigma        = 1.4826 // of a normal distribution
	leastCompared     = 4      // scans without which nothing can stand out
)

// compare looks for scans that do not belong with the others.
func compare(s *result.Series) {
	failures(s)
	ofScans(s)
	counted(s)
	different(s, "radiation-differs", "radiation", "Positions and penetration differ with the tube; compare fractions only, and expect other limits.",
		func(e result.SeriesEntry) string {
			return fmt.Sprintf("%s (%.4f Å)", e.Radiation, value(e.Wavelength))
		})
	different(s, "range-differs", "range", "Use --range for the part that all scans share; limits and cells depend on the range.",
		func(e result.SeriesEntry) string {
			return fmt.Sprintf("%.4g° to %.4g°, step %.3g°", value(e.TwoThetaMin), value(e.TwoThetaMax), value(e.Step))
		})
	notExplained(s)
	outliers(s)
}

// ofScans passes on which cautions single scans carry, those that most carry first; the series has its own word for scans that are
// not explained.
func ofScans(s *result.Series) {
	times := map[string]int{}
	answers := 0
	for _, e := range s.Scans {
		if e.Error == "" {
			answers++
		}
		for _, code := range e.Cautions {
			if code != "not-explained" && code != "partly-explained" {
				times[code]++
			}
		}
	}
	if len(times) == 0 {
		return
	}
	codes := slices.SortedFunc(maps.Keys(times), func(a, b string) int { return cmp.Or(times[b]-times[a], strings.Compare(a, b)) })
	parts := make([]string, len(codes))
	for i, code := range codes {
		parts[i] = fmt.Sprintf("%s in %d", code, times[code])
	}
	s.Cautions = append(s.Cautions, xrd.Caution{Code: "scan-cautions", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("Of %d %s with an answer, some carry cautions of their own: %s.", answers, scans(answers), strings.Join(parts, ", ")),
		Remedy: "Read them in the report or analysis.json of each scan before its numbers are used.", Evidence: map[string]any{"codes": times}})
}

func scans(n int) string {
	if n == 1 {
		return "scan"
	}
	return "scans"
}

// counted tells phases that are the specimen's in some scans and left by preparation in others: the 100 % of these scans are not of
// the same phases, so that a trend would show what nobody did.
func counted(s *result.Series) {
	for k, p := range s.Phases {
		own, other := 0, 0
		for _, e := range s.Scans {
			if k < len(e.Phases) && e.Phases[k].Detected {
				switch e.Phases[k].Origin {
				case "specimen":
					own++
				case "preparation":
					other++
				}
			}
		}
		if own > 0 && other > 0 {
			s.Cautions = append(s.Cautions, xrd.Caution{Code: "series-origin", Severity: xrd.SeverityCaution,
				Text:   fmt.Sprintf("%s counts as the specimen's in %d %s and as left by preparation in %d: the 100 %% of these are not of the same phases.", p.Name, own, scans(own), other),
				Remedy: "With --require " + p.ID + " it is the specimen's in all scans, with --aside " + p.ID + " in none.", Evidence: map[string]any{"phase": p.ID, "specimen": own, "preparation": other}})
		}
	}
}

// notExplained names the scans that the phases of the series do not explain.
func notExplained(s *result.Series) {
	var none, partly []string
	for _, e := range s.Scans {
		switch e.Verdict {
		case result.None:
			none = append(none, e.File)
		case result.Partial:
			partly = append(partly, e.File)
		}
	}
	const remedy = "See unexplained_peaks of these scans for what could be there; name further phases, give more elements, or add reference data with --library."
	if len(none) > 0 {
		s.Cautions = append(s.Cautions, xrd.Caution{Code: "not-explained", Severity: xrd.SeverityStop,
			Text: "The phases of the series do not explain " + few(none) + ": no fractions are given there.", Remedy: remedy, Evidence: map[string]any{"scans": len(none)}})
	}
	if len(partly) > 0 {
		s.Cautions = append(s.Cautions, xrd.Caution{Code: "partly-explained", Severity: xrd.SeverityCaution,
			Text: "The phases of the series explain only part of " + few(partly) + ": fractions there are of what was recognised.", Remedy: remedy, Evidence: map[string]any{"scans": len(partly)}})
	}
}

func value(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

func failures(s *result.Series) {
	var files []string
	waiting := 0
	for _, e := range s.Scans {
		switch {
		case e.Stopped:
			waiting++
		case e.Error != "":
			files = append(files, e.File)
		}
	}
	if waiting > 0 {
		s.Cautions = append(s.Cautions, xrd.Caution{Code: "series-stopped", Severity: xrd.SeverityCaution,
			Text:   fmt.Sprintf("The run was stopped: %d of %d scans are not analysed yet.", waiting, len(s.Scans)),
			Remedy: "Run the same command again; it goes on where this one was.", Evidence: map[string]any{"scans": waiting}})
	}
	if len(files) > 0 {
		s.Cautions = append(s.Cautions, xrd.Caution{Code: "scan-failed", Severity: xrd.SeverityCaution,
			Text: fmt.Sprintf("%d %s without an answer: %s.", len(files), areScans(len(files)), few(files)), Remedy: "See its error in the table; mend it and run the same command again, which does only what is missing.",
			Evidence: map[string]any{"scans": len(files)}})
	}
}

// different marks the scans whose property is not that of most (of the first, when equally many).
func different(s *result.Series, code, what, remedy string, property func(result.SeriesEntry) string) {
	times := map[string]int{}
	usual := ""
	for _, e := range s.Scans {
		if e.Error == "" {
			times[property(e)]++
		}
	}
	for _, e := range s.Scans {
		if e.Error == "" && times[property(e)] > times[usual] {
			usual = property(e)
		}
	}
	var files []string
	for i := range s.Scans {
		if e := &s.Scans[i]; e.Error == "" && property(*e) != usual {
			files = append(files, e.File)
			mark(e, code)
		}
	}
	if len(files) > 0 {
		s.Cautions = append(s.Cautions, xrd.Caution{Code: code, Severity: xrd.SeverityCaution,
			Text:   fmt.Sprintf("The %s of %s differs from that of the other scans (%s).", what, few(files), usual),
			Remedy: remedy, Evidence: map[string]any{"scans": len(files), "usual": usual}})
	}
}

// mark adds a code to an entry, once.
func mark(e *result.SeriesEntry, code string) {
	if !slices.Contains(e.Cautions, code) {
		e.Cautions = append(e.Cautions, code)
	}
}

// outliers marks scans that the common model fits far worse than the rest.
func outliers(s *result.Series) {
	var logs []float64
	for _, e := range s.Scans {
		if v := math.Log(value(e.ReducedChiSquare)); !math.IsNaN(v) && !math.IsInf(v, 0) {
			logs = append(logs, v)
		}
	}
	if len(logs) < leastCompared {
		return
	}
	middle := median(logs)
	for i := range logs {
		logs[i] = math.Abs(logs[i] - middle)
	}
	spread := madToSigma * median(logs)
	limit := middle + math.Max(outlierDeviations*spread, math.Log(outlierFactor))
	var files []string
	for i := range s.Scans {
		if e := &s.Scans[i]; math.Log(value(e.ReducedChiSquare)) > limit {
			files = append(files, e.File)
			mark(e, "series-outlier")
		}
	}
	if len(files) > 0 {
		s.Cautions = append(s.Cautions, xrd.Caution{Code: "series-outlier", Severity: xrd.SeverityCaution,
			Text:     fmt.Sprintf("The model of the series fits %s far worse than the other scans.", few(files)),
			Remedy:   "Look for a phase of its own, another radiation than stated, few grains, or a specimen that was not level; see its report.",
			Evidence: map[string]any{"scans": len(files), "reduced_chi_square_limit": math.Exp(limit)}})
	}
}

// median sorts a copy.
func median(values []float64) float64 {
	v := slices.Sorted(slices.Values(values))
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

func areScans(n int) string {
	if n == 1 {
		return "scan is"
	}
	return "scans are"
}

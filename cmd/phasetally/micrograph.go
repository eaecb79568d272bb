package main

import (
	"fmt"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

// fillMicrograph sets what was measured on a micrograph; flags win over what the scan says.
func (o *options) fillMicrograph(job *analysis.Job) (err error) {
	job.Intercepts = job.Scan.About.Intercepts
	if len(o.intercepts) > 0 {
		if job.Intercepts, err = xrd.ParseIntercepts(strings.Join(o.intercepts, ",")); err != nil {
			return fmt.Errorf("--intercept: %w", err)
		}
	}
	job.Spread = job.Scan.About.InterceptCV2
	if o.interceptCV2 != "" {
		if job.Spread, err = xrd.ParseInterceptSpread(o.interceptCV2); err != nil {
			return fmt.Errorf("--intercept-cv2: %w", err)
		}
	}
	job.Areas, err = parseAreas(o.areas)
	return err
}

// parseAreas understands ID=PERCENT±U.
func parseAreas(list []string) ([]analysis.Area, error) {
	var out []analysis.Area
	for _, s := range list {
		for part := range strings.SplitSeq(s, ",") {
			id, percent, ok := strings.Cut(strings.TrimSpace(part), "=")
			a := analysis.Area{ID: strings.TrimSpace(id)}
			var err error
			a.Percent, a.U, err = xrd.ParseUncertain(percent)
			if !ok || a.ID == "" || err != nil || !(a.Percent >= 0 && a.Percent <= 100) || !(a.U > 0) {
				return nil, fmt.Errorf("--area %q: give the area in %% of the section with its standard uncertainty, as in --area lead=8±1", part)
			}
			out = append(out, a)
		}
	}
	return out, nil
}

// interceptsOf takes the intercepts of a scan, and how much they differ, from the columns "intercept" and "intercept_cv2" of the
// table of conditions, unless a flag gives them.
func (o *options) interceptsOf(job *analysis.Job, table result.Conditions, file string) (err error) {
	if cell := table.Cell(file, "intercept"); cell != "" && len(o.intercepts) == 0 {
		if job.Intercepts, err = xrd.ParseIntercepts(cell); err != nil {
			return fmt.Errorf("table of conditions, %s, column intercept: %w", file, err)
		}
	}
	if cell := table.Cell(file, "intercept_cv2"); cell != "" && o.interceptCV2 == "" {
		if job.Spread, err = xrd.ParseInterceptSpread(cell); err != nil {
			return fmt.Errorf("table of conditions, %s, column intercept_cv2: %w", file, err)
		}
	}
	return nil
}

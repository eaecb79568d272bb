package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// fillStandard sets the standard, mixed in or external, that makes fractions absolute.
func (o *options) fillStandard(job *analysis.Job) error {
	external := o.kFactor != "" || o.kStandard != ""
	switch {
	case o.kFactor != "" && o.kStandard != "":
		return errors.New("--k-factor and --k-standard both give the external standard; drop one of the two")
	case external && o.spike != "":
		return errors.New("--spike is an internal and --k-factor or --k-standard an external standard; drop one of the two")
	}
	c, u, err := xrd.ParseUncertain(first(o.crystallinity, "1"))
	if err != nil || !(c > 0 && c <= 1) {
		return fmt.Errorf("--spike-crystallinity %s: give a mass fraction above 0 and up to 1, as in 0.9902±0.0056", o.crystallinity)
	}
	switch {
	case o.spike != "":
		job.Spike, err = parseSpike(o.spike)
		if err == nil {
			job.Spike.Crystallinity, job.Spike.CrystallinityU = c, u
		}
	case external:
		job.External, err = o.loadExternal(job)
		if err == nil {
			job.External.Crystallinity, job.External.CrystallinityU = c, u
		}
	}
	return err
}

// parseSpike understands ID=WT.
func parseSpike(s string) (*analysis.Spike, error) {
	id, wt, ok := strings.Cut(s, "=")
	v, err := strconv.ParseFloat(wt, 64)
	if !ok || err != nil || !(v > 0 && v < 100) {
		return nil, fmt.Errorf("--spike %q: give ID=WT with 0 < WT < 100, as in --spike corundum=20", s)
	}
	return &analysis.Spike{ID: id, WeightPercent: v}, nil
}

// loadExternal returns the external standard that --k-factor or --k-standard gives; the latter's scan is read.
func (o *options) loadExternal(job *analysis.Job) (*analysis.External, error) {
	if o.kFactor != "" {
		k, u, err := xrd.ParseUncertain(o.kFactor)
		if err != nil || !(k > 0) {
			return nil, fmt.Errorf("--k-factor %q: give a constant above 0 with its standard uncertainty, as in --k-factor 62800±900", o.kFactor)
		}
		return &analysis.External{K: k, U: u}, nil
	}
	i := strings.LastIndexByte(o.kStandard, '=') // a file may have = in its name, an id has not
	if i <= 0 || i == len(o.kStandard)-1 {
		return nil, fmt.Errorf("--k-standard %q: give SCAN=ID, as in --k-standard corundum-pure.xy=corundum", o.kStandard)
	}
	name := o.kStandard[:i]
	scan, err := loadScan(name)
	if err != nil {
		return nil, fmt.Errorf("--k-standard: %w", err)
	}
	if scan.sha256 == job.SHA256 {
		return nil, fmt.Errorf("--k-standard %s: is the scan of the specimen itself; give that of a pure phase", name)
	}
	if r := scan.About.Radiation; r != nil && job.Radiation.Name != "" && r.Name != job.Radiation.Name {
		return nil, fmt.Errorf("--k-standard %s: its radiation is %s and that of the specimen %s; scan both with one tube", name, r.Name, job.Radiation.Name)
	}
	return &analysis.External{Scan: scan.Scan, File: name, ID: o.kStandard[i+1:]}, nil
}

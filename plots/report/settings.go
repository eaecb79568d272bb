package report

import (
	"maps"
	"slices"
	"strings"

	"phasetally/xrd/result"
)

// flagWords say in words what a flag of a command states.
var flagWords = map[string]string{
	"anchor": "Phase that fixes the angle scale", "blank": "Scan of the mount alone", "composition": "Measured composition, wt%", "conditions": "Table of conditions",
	"elements": "Elements present", "exclude": "Phases that must not be there", "force": "Earlier result replaced", "format": "Printed as", "grain": "Diameter of grains, µm",
	"instrument": "Instrument file", "jobs": "Cores", "k-factor": "Constant of the external standard", "k-standard": "Scan of the external standard",
	"library": "Reference data added", "mask": "Left out, degrees 2θ", "monochromator": "Monochromator", "mount": "Mount", "no-figures": "No figures of single scans",
	"no-starter": "Starter collection not used", "out": "Result folder", "phase": "Phases named", "quiet": "Nothing printed", "radiation": "Radiation", "radius": "Goniometer radius, mm",
	"range": "Range used, degrees 2θ", "require": "Phases required", "same-specimen": "All scans are of one specimen", "sample": "Name of the specimen", "section": "Section", "settings": "File of saved flags",
	"slit": "Divergence slit", "specimen-length": "Length of the specimen, mm", "spike": "Standard added, wt%", "spike-crystallinity": "Crystalline part of the standard",
	"strict-elements": "No other elements allowed", "thickness": "Thickness of the specimen, mm", "wanted-limit": "Detection limit wanted, wt%", "watch": "Phases watched",
}

// silent flags change how a result is delivered, not what it says.
var silent = map[string]bool{"force": true, "format": true, "jobs": true, "quiet": true, "out": true, "csv-locale": true, "save-settings": true}

// settingRows lists in words what the user stated.
func settingRows(p result.Provenance) []pair {
	var out []pair
	for _, name := range slices.Sorted(maps.Keys(p.Given)) {
		if silent[name] {
			continue
		}
		words, ok := flagWords[name]
		if !ok {
			words = strings.ReplaceAll(name, "-", " ")
		}
		value := strings.ReplaceAll(strings.Trim(p.Given[name], "[]"), ",", ", ")
		if value == "true" {
			value = "yes"
		}
		out = append(out, pair{words, value})
	}
	return out
}

package report

import (
	"fmt"
	"strings"

	"phasetally/xrd/result"
)

// mostNamed is how many names a line on progress has; of more it has all but one, and how many others there are.
const mostNamed = 4

// Standing says in words where an analysis stands: what explains the scan so far, which nothing is sure of before the end, and what is being tried.
func Standing(p result.Progress) string {
	switch {
	case p.Peaks == 0:
		return p.Doing
	case len(p.Found) == 0:
		return fmt.Sprintf("peaks: %d, none explained yet; %s", p.Peaks, p.Doing)
	}
	return fmt.Sprintf("candidates for %s of the peak area so far: %s; %s", result.ShareText(p.Share), fewOf(p.Found), p.Doing)
}

// fewOf lists the first few names.
func fewOf(names []string) string {
	if len(names) <= mostNamed {
		return strings.Join(names, ", ")
	}
	first := mostNamed - 1
	return fmt.Sprintf("%s and %d more", strings.Join(names[:first], ", "), len(names)-first)
}

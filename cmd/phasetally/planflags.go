package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"phasetally/plots"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/plan"
	"phasetally/xrd/resultfile"
)

// planCheck looks at the flags, and fills the request from them.
func (o *options) planCheck(c *cobra.Command, q *plan.Request, language, preparation, from string) (plots.Style, error) {
	var wrong troubles
	wrong.note(textOrJSON(o.format))
	style, err := plots.Style{}.In(language)
	if err != nil {
		wrong.note(fmt.Errorf("--language: %w", err))
	}
	if o.out != "" && !strings.HasSuffix(strings.ToLower(o.out), ".html") {
		wrong.note(fmt.Errorf("--out %q: end the name in .html", o.out))
	} else {
		wrong.note(o.checkOut(resultfile.PlanMark))
	}
	wrong.note(o.planRequest(c, q, preparation, from))
	return style, wrong.err()
}

// planRequest fills the request from the flags.
func (o *options) planRequest(c *cobra.Command, q *plan.Request, preparation, from string) error {
	var wrong troubles
	best := o.radiation == "best"
	if best {
		o.radiation = "Cu"
	}
	j, err := o.diffractometer()
	wrong.note(err)
	span, err := parseRange("--range", o.span)
	wrong.note(err)
	q.Instrument, q.Section, q.Lo, q.Hi = j.Instrument, o.section, span[0], span[1]
	q.Discriminates = q.Discriminates || j.Instrument.Monochromator.Kind != xrd.NoMonochromator
	own, err := ownPreparations(preparation)
	wrong.note(err)
	q.Table = slices.Concat(own, refdata.Preparations())
	if from != "" {
		earlier, err := resultfile.Read(from)
		if err != nil {
			wrong.note(fmt.Errorf("--from: %w", err))
		}
		q.Earlier = &earlier
	}
	if err := wrong.err(); err != nil {
		_, _, more := o.planned()
		wrong.note(more)
		return wrong.err()
	}
	return o.planTubes(c, q, j.Radiation, best)
}

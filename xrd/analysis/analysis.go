package analysis

import (
	"context"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// Run analyses one scan. A scan in which nothing is found is a Result without phases; an error is for input that
// nothing can be made of, or the context's.
func Run(ctx context.Context, job Job) (result.Analysis, error) {
	m, err := measure(ctx, job, given{})
	if err != nil {
		return result.Analysis{}, err
	}
	return m.finish(), ctx.Err()
}

// Lead analyses a scan as Run does and returns what its fit tells others like it; nil when it has not come to an end.
func Lead(ctx context.Context, job Job) (result.Analysis, *Start, error) {
	m, err := measure(ctx, job, given{})
	if err != nil {
		return result.Analysis{}, nil, err
	}
	return m.finish(), startOf(m.job.Radiation, m.identified), ctx.Err()
}

// given is what another scan has decided for this one: a slit that was fitted, or that none is to be.
type given struct {
	slit   *diagnose.Slit
	stands bool
}

// measured is all that takes time.
type measured struct {
	prepared
	explanation
	amounts
	blankShare float64 // of the peak area that stands in the blank, too
}

// measure does what takes time, up to the fractions.
func measure(ctx context.Context, job Job, g given) (measured, error) {
	var m measured
	var err error
	if m.prepared, err = prepare(ctx, job); err != nil || m.job.Steps == PeaksOnly {
		return m, err
	}
	if m.job.crowded() && !m.job.keepUnseen {
		shown, err := m.shown(ctx)
		if err != nil {
			return m, err
		}
		m.job = m.job.only(shown)
	}
	if m.blankShare, err = m.inBlank(ctx); err != nil {
		return m, err
	}
	for again := true; again; {
		if m.explanation, err = explain(ctx, m.prepared, g); err != nil {
			return m, err
		}
		m.job, again = m.job.without(m.unseen())
	}
	if m, err = unlessStripped(ctx, m, g); err != nil {
		return m, err
	}
	m.found.Peaks = askedPhases(m.found.Peaks, m.identified)
	constant, without, err := measureStandard(ctx, m.prepared, m.explanation)
	if err != nil {
		return m, err
	}
	m.tell(m.identified, "working out the fractions")
	m.amounts = share(m.prepared, m.explanation, constant)
	m.Without = without
	return m, m.compareAreas()
}

// finish writes the document with its doubts.
func (m measured) finish() result.Analysis {
	if len(m.Roles) > 0 {
		m.order = orderOf(m.Roles, m.Answer, m.identified.Fit.Scales)
		m.Checks = quantify.CheckLines(m.input, m.Answer, m.found.Peaks)
		m.amounts = m.withhold()
	}
	doc, watched := document(m)
	doc.Cautions = diagnose.Cautions(m.evidence(doc, watched))
	return result.Analysis{Document: doc, Curves: m.curves()}
}

// evidence gathers what the checks of package diagnose read.
func (m measured) evidence(doc result.Document, watched []diagnose.WatchedSeen) diagnose.Evidence {
	e := diagnose.Evidence{Facts: m.job.facts(), Scan: m.scan, Found: m.found, Explanation: m.identified, Decided: m.decided,
		Amounts: m.Amounts, Order: m.order, Document: doc}
	e.Decided.Watched = watched
	e.Facts.BlankShare = m.blankShare
	return e
}

// facts are what a job says, for the checks.
func (j Job) facts() diagnose.Facts {
	f := diagnose.Facts{Radiation: j.Radiation, RadiationAssumed: j.RadiationAssumed, Instrument: j.Instrument, Specimen: j.Specimen,
		Thickness: j.Thickness, WantedLimit: j.WantedLimit, Masks: j.Masks, Composition: j.Composition,
		Preparations: slices.Concat(j.Preparations, refdata.Preparations()), Named: len(j.Phases) > 0, AskedFor: j.askedFor, Blank: j.Blank != nil, Aside: j.Aside, Elements: j.Filter.Elements, References: j.Collection.Len()}
	switch {
	case j.Spike != nil:
		f.Spike = &diagnose.StandardAdded{ID: j.Spike.ID, WeightPercent: j.Spike.WeightPercent}
	case j.External != nil:
		e := j.External
		f.External = &diagnose.StandardScan{Given: e.K > 0, TimeKnown: e.Scan.About.CountingTime > 0 && j.Scan.About.CountingTime > 0}
	}
	return f
}

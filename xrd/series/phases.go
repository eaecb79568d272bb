package series

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/sync/errgroup"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

// surveyed is how many single scans are searched for phases beside the sum of all: enough for what comes and goes
// between the ends of a series, few enough to stay short beside the series itself.
const surveyed = 5

// Phases finds the phases of a series. The sum of all scans that share radiation and angles with the first that
// can be read shows best what is there, and which of two similar phases it is. A few single scans spread over the
// series are then searched for what those phases leave unexplained, because a sum dilutes what only one scan shows. A
// phase counts when one search finds it established or probable, or two find it at all; phases that must be there come
// first. The order is that of the sum, then of the scans.
func Phases(ctx context.Context, job Job) ([]string, error) {
	if len(job.Files) == 0 {
		return nil, ErrNoScans
	}
	sum, alike, err := sumOf(ctx, job)
	if err != nil {
		return nil, err
	}
	collection := remember(job.Collection)
	whole, err := search(ctx, sum, collection)
	if err != nil {
		return nil, err
	}
	ids := slices.Clone(sum.Filter.Require)
	if sum.Spike != nil && !holds(ids, sum.Spike.ID) {
		ids = append(ids, sum.Spike.ID)
	}
	known := union(ids, [][]result.Phase{whole})
	looks := pickSpread(alike, surveyed)
	found := make([][]result.Phase, len(looks))
	var g errgroup.Group
	g.SetLimit(job.workers())
	for k, i := range looks {
		if len(alike) == 1 {
			break // the sum of one scan is that scan
		}
		g.Go(func() error {
			j, err := job.Load(i)
			if err != nil {
				return nil // it is told as an entry later
			}
			j.Filter.Require = known
			found[k], err = search(ctx, j, collection)
			return err
		})
	}
	if err := errors.Join(g.Wait(), ctx.Err()); err != nil {
		return nil, err
	}
	ids = union(ids, append([][]result.Phase{whole}, found...))
	if len(ids) == 0 {
		return nil, ErrNoPhases
	}
	return ids, nil
}

func holds(ids []string, id string) bool {
	return slices.ContainsFunc(ids, func(s string) bool { return strings.EqualFold(s, id) })
}

// search names the phases of one scan; a scan that cannot be analysed has none.
func search(ctx context.Context, j analysis.Job, c *remembered) (found []result.Phase, err error) {
	defer func() {
		if p := recover(); p != nil {
			found = nil
		}
	}()
	j.Collection, j.Phases, j.Workers, j.Steps = c, nil, 1, analysis.Everything
	r, err := analysis.Run(ctx, j)
	if errors.Is(err, analysis.ErrUnknownPhase) || ctx.Err() != nil {
		return nil, err
	}
	return r.Document.Phases, nil
}

// union adds to ids the phases that count, in order of appearance.
func union(ids []string, found [][]result.Phase) []string {
	times := map[string]int{}
	for _, phases := range found {
		for _, p := range phases {
			times[p.ID]++
			if p.Evidence == result.Established || p.Evidence == result.Probable {
				times[p.ID]++
			}
		}
	}
	for _, phases := range found {
		for _, p := range phases {
			if times[p.ID] >= 2 && !holds(ids, p.ID) {
				ids = append(ids, p.ID)
			}
		}
	}
	return ids
}

// sumOf adds up the scans that share radiation and angles with the first readable one, whose job it returns with the
// summed intensities, and says which scans these are. Only one scan a worker is held at a time.
func sumOf(ctx context.Context, job Job) (analysis.Job, []int, error) {
	first, from, why := firstReadable(job)
	if from < 0 {
		return analysis.Job{}, nil, fmt.Errorf("%w: %w", ErrUnreadable, why)
	}
	y := slices.Clone(first.Scan.Intensity)
	alike := []int{from}
	for i := from + 1; i < len(job.Files); i++ {
		if ctx.Err() != nil {
			return analysis.Job{}, nil, ctx.Err()
		}
		j, err := job.Load(i)
		if err != nil || !sameGrid(first, j) {
			continue
		}
		alike = append(alike, i)
		for k, v := range j.Scan.Intensity {
			y[k] += v
		}
	}
	var sigma []float64 // sums of counts speak for themselves; recorded uncertainties would have to be added as squares
	scan, err := xrd.NewScan(first.Scan.TwoTheta, y, sigma, first.Scan.About)
	if err != nil {
		return analysis.Job{}, nil, err
	}
	first.Scan = scan
	first.Specimen.Name = "sum of the series"
	return first, alike, nil
}

func firstReadable(job Job) (analysis.Job, int, error) {
	var why error
	for i := range job.Files {
		j, err := job.Load(i)
		if err == nil {
			return j, i, nil
		}
		if why == nil {
			why = err
		}
	}
	return analysis.Job{}, -1, why
}

// sameGrid reports whether two scans can be added point by point.
func sameGrid(a, b analysis.Job) bool {
	return a.Radiation == b.Radiation && (a.Scan.Sigma == nil) == (b.Scan.Sigma == nil) && slices.Equal(a.Scan.TwoTheta, b.Scan.TwoTheta)
}

// pickSpread picks n of a list, evenly, with both ends.
func pickSpread(list []int, n int) []int {
	if len(list) <= n {
		return list
	}
	out := make([]int, n)
	for k := range out {
		out[k] = list[k*(len(list)-1)/(n-1)]
	}
	return out
}

// entryOf keeps what is tidy of a document; shares stand in the order of ids.
func entryOf(doc result.Document, ids []string) result.SeriesEntry {
	s := doc.Scan
	e := result.SeriesEntry{File: s.File, SHA256: s.SHA256, Sample: s.Sample, Simulated: s.Simulated, Radiation: s.Radiation, Wavelength: result.Positive(s.Wavelength),
		TwoThetaMin: result.Number(s.TwoThetaMin), TwoThetaMax: result.Number(s.TwoThetaMax), Step: result.Number(s.Step), Cautions: []string{}}
	e.Absorption = doc.Absorption
	if f := doc.Fit; f != nil {
		e.RWP, e.RExp, e.ReducedChiSquare = result.Number(f.RWP), result.Number(f.RExp), result.Number(f.ReducedChiSquare)
		e.DisplacementMM, e.Status = f.DisplacementMM, f.Status
	}
	if x := doc.Explanation; x != nil {
		e.Verdict, e.ExplainedShare = x.Verdict, x.ExplainedShare
	}
	for _, c := range doc.Cautions {
		e.Stop = e.Stop || c.Severity == xrd.SeverityStop
		if c.Severity != xrd.SeverityNote && !slices.Contains(e.Cautions, c.Code) {
			e.Cautions = append(e.Cautions, c.Code)
		}
	}
	for _, id := range ids {
		e.Phases = append(e.Phases, shareOf(doc, id))
	}
	return e
}

func shareOf(doc result.Document, id string) result.SeriesShare {
	for _, p := range doc.Phases {
		if !strings.EqualFold(p.ID, id) {
			continue
		}
		out := result.SeriesShare{ID: id, Origin: p.Origin, Evidence: p.Evidence, Detected: true,
			WeightPercent: p.WeightPercent, WeightPercentLo: p.WeightPercentLo, WeightPercentHi: p.WeightPercentHi,
			VolumePercent: p.VolumePercent, VolumePercentLo: p.VolumePercentLo, VolumePercentHi: p.VolumePercentHi,
			Original: p.OriginalWeightPercent, OriginalLo: p.OriginalWeightPercentLo, OriginalHi: p.OriginalWeightPercentHi,
			FineLimit: p.FineLimitWeightPercent, CoarseLimit: p.CoarseLimitWeightPercent, DetectionLimit: p.DetectionLimit, SizeNM: p.SizeNM, Strain: p.Strain}
		if c := p.Cell; c != nil {
			out.CellA, out.CellB, out.CellC = result.Positive(c.A), result.Positive(c.B), result.Positive(c.C)
		}
		if c := p.CellU; c != nil {
			out.CellAU, out.CellBU, out.CellCU = result.Number(c.A), result.Number(c.B), result.Number(c.C)
		}
		return out
	}
	if !doc.Judged() {
		return result.SeriesShare{ID: id, Evidence: result.NotJudged}
	}
	out := result.SeriesShare{ID: id, Evidence: result.Unseen}
	for _, n := range doc.NotDetected {
		if strings.EqualFold(n.ID, id) {
			out.DetectionLimit = n.DetectionLimit
		}
	}
	return out
}

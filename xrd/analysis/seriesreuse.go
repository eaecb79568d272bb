package analysis

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"phasetally/xrd/result"
	"slices"
	"sync"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
)

// fingerprint tells whether two analyses of a scan would be the same: it covers the scan's bytes, everything that the
// job says, the reference data and the program's version.
func (j Job) fingerprint() string {
	var blank []float64
	if j.Blank != nil {
		blank = append(slices.Clone(j.Blank.TwoTheta), j.Blank.Intensity...)
	}
	filter := j.Filter
	if len(j.Provenance.ReferenceData) > 0 {
		filter.Own = nil // follows from the reference data, and may have very many entries
	}
	b, err := json.Marshal(struct {
		Scan        string
		Radiation   xrd.Radiation
		Assumed     bool
		Instrument  xrd.Instrument
		Specimen    xrd.Specimen
		Range       [2]float64
		Masks       [][2]float64
		Blank       []float64
		Filter      identify.Filter
		Phases      []string
		Searched    bool
		Spike       *Spike
		Composition []ElementAmount
		Anchor      string
		Grains      []Grain
		Watch       []string
		External    *External
		Thickness   float64
		Wanted      float64
		Reference   []result.ReferenceFile
		Version     string
	}{j.SHA256, j.Radiation, j.RadiationAssumed, j.Instrument, j.Specimen, j.Range, j.Masks, blank, filter, j.Phases, j.searched,
		j.Spike, j.Composition, j.Anchor, j.Grains, j.Watch, j.External, j.Thickness, j.WantedLimit,
		j.Provenance.ReferenceData, j.Provenance.Version})
	if err != nil { // a number that is not finite: then nothing is known to be the same
		return ""
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// remembered keeps the lines of phases that many scans ask for with the same beam.
type remembered struct {
	identify.Collection
	mu     sync.Mutex
	phases map[rememberedKey]refdata.Phase
}

type rememberedKey struct {
	index int
	beam  refdata.Beam
}

// mostRemembered bounds the memory when every scan has another range.
const mostRemembered = 256

func remember(c identify.Collection) *remembered {
	return &remembered{Collection: c, phases: map[rememberedKey]refdata.Phase{}}
}

// Phase computes a phase once a beam. Callers share it and do not change it.
func (m *remembered) Phase(i int, beam refdata.Beam) (refdata.Phase, error) {
	key := rememberedKey{i, beam}
	m.mu.Lock()
	p, ok := m.phases[key]
	m.mu.Unlock()
	if ok {
		return p, nil
	}
	p, err := m.Collection.Phase(i, beam)
	if err != nil {
		return p, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.phases) >= mostRemembered {
		clear(m.phases)
	}
	m.phases[key] = p
	return p, nil
}

// searched returns the phases of a series, those of an earlier search if all that it followed from is the same.
func (s SeriesJob) searched(ctx context.Context) ([]string, error) {
	if s.EarlierPhases == nil && s.KeepPhases == nil {
		return SeriesPhases(ctx, s)
	}
	mark, err := s.fingerprint(ctx)
	if err != nil {
		return nil, err
	}
	if s.EarlierPhases != nil {
		if ids, ok := s.EarlierPhases(mark); ok {
			return ids, nil
		}
	}
	ids, err := SeriesPhases(ctx, s)
	if err != nil || s.KeepPhases == nil {
		return ids, err
	}
	return ids, s.KeepPhases(mark, ids)
}

// fingerprint covers all that a search of the series follows from: every scan with its settings, in order.
func (s SeriesJob) fingerprint(ctx context.Context) (string, error) {
	sum := sha256.New()
	for i := range s.Files {
		if ctx.Err() != nil {
			return "", ctx.Err()
		}
		mark := "unreadable"
		if j, err := s.Load(i); err == nil {
			j.Phases, j.searched = nil, false
			if mark = j.fingerprint(); mark == "" {
				return "", nil
			}
		}
		fmt.Fprintln(sum, mark)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

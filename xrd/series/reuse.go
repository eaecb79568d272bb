package series

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"sync"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/identify"
	"phasetally/xrd/result"
)

// fingerprint tells whether two analyses of a scan would be the same: it covers the scan's bytes, everything that the
// job says, the reference data and the program's version. It is empty when nothing is known to be the same.
func fingerprint(j analysis.Job) string {
	if j.SHA256 != "" {
		j.Scan = xrd.Scan{} // follows from its bytes
	}
	j.File = ""        // the same bytes under another name give the same
	j.Collection = nil // told by the reference data
	if len(j.Provenance.ReferenceData) > 0 {
		j.Filter.Own = nil // follows from the reference data, and may have very many entries
	}
	j.Provenance = result.Provenance{ReferenceData: j.Provenance.ReferenceData, Version: j.Provenance.Version}
	b, err := json.Marshal(j)
	if err != nil { // a number that is not finite
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
func (s Job) searched(ctx context.Context) ([]string, error) {
	if s.EarlierPhases == nil && s.KeepPhases == nil {
		return Phases(ctx, s)
	}
	key, err := s.fingerprint(ctx)
	if err != nil {
		return nil, err
	}
	if s.EarlierPhases != nil {
		if ids, ok := s.EarlierPhases(key); ok {
			return ids, nil
		}
	}
	ids, err := Phases(ctx, s)
	if err != nil || s.KeepPhases == nil {
		return ids, err
	}
	return s.KeepPhases(key, ids)
}

// fingerprint covers all that a search of the series follows from: every scan with its settings, in order.
func (s Job) fingerprint(ctx context.Context) (string, error) {
	sum := sha256.New()
	for i := range s.Files {
		if ctx.Err() != nil {
			return "", ctx.Err()
		}
		key := "unreadable"
		if j, err := s.Load(i); err == nil {
			j.Phases, j.Searched = nil, false
			if key = fingerprint(j); key == "" {
				return "", nil
			}
		}
		fmt.Fprintln(sum, key)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

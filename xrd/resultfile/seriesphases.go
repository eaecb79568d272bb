package resultfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// keptPhases is series-phases.json: the decision which phases every scan of the series is fitted with.
type keptPhases struct {
	Schema      string   `json:"schema"`
	Fingerprint string   `json:"fingerprint"` // of all that the search followed from
	Phases      []string `json:"phases"`
}

const (
	phasesSchema  = "phasetally.series-phases/1"
	sharedPhases  = "series-phases-*.json"
	fingerprinted = 16 // letters of the fingerprint in the name of a shared decision
)

// sharedDecision is the name of the decision of shares. It says from what the decision followed, so that the shares of one
// series agree on one name, which only one of them can take.
func sharedDecision(fingerprint string) string {
	return fmt.Sprintf("series-phases-%.*s.json", fingerprinted, fingerprint)
}

func (f *SeriesFolder) readPhases(name, fingerprint string) ([]string, bool) {
	raw, err := os.ReadFile(filepath.Join(f.dir, name))
	var k keptPhases
	if err != nil || json.Unmarshal(raw, &k) != nil {
		return nil, false
	}
	return k.Phases, k.Schema == phasesSchema && k.Fingerprint == fingerprint && len(k.Phases) > 0
}

// EarlierPhases returns the phases that an earlier run or another share has found in the same scans with the same settings.
func (f *SeriesFolder) EarlierPhases(fingerprint string) ([]string, bool) {
	if f.again || fingerprint == "" {
		return nil, false
	}
	if ids, ok := f.readPhases(phasesFile, fingerprint); ok {
		return ids, true
	}
	ids, ok := f.readPhases(sharedDecision(fingerprint), fingerprint)
	if ok && f.share == 0 { // from now on it is that of the series
		_ = f.disk.rename(filepath.Join(f.dir, sharedDecision(fingerprint)), filepath.Join(f.dir, phasesFile))
	}
	return ids, ok
}

// KeepPhases keeps the phases that a search has found, so that a run that goes on need not repeat it, and returns those that
// hold for the series: of several shares the first that is done decides, and the others get its phases.
func (f *SeriesFolder) KeepPhases(fingerprint string, ids []string) ([]string, error) {
	raw, err := json.Marshal(keptPhases{phasesSchema, fingerprint, ids}, jsontext.WithIndent(" "))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", phasesFile, err)
	}
	if err := f.make(); err != nil {
		return nil, err
	}
	raw = append(raw, '\n')
	if f.share == 0 || fingerprint == "" {
		return ids, f.replace(map[string]FileWriter{phasesFile: Bytes(raw)})
	}
	return f.decide(fingerprint, ids, raw)
}

// decide puts the decision of a share in its place in one step unless there is one already.
func (f *SeriesFolder) decide(fingerprint string, ids []string, raw []byte) ([]string, error) {
	d, name := f.disk, sharedDecision(fingerprint)
	tmp, err := d.mkdirTemp(f.dir, ".series"+partial+"*")
	if err != nil {
		return nil, folderError(f.dir, err)
	}
	defer d.removeAll(tmp)
	if err := fill(d, tmp, map[string][]byte{name: raw, partialMarker: nil}); err != nil {
		return nil, folderError(f.dir, err)
	}
	from, to := filepath.Join(tmp, name), filepath.Join(f.dir, name)
	switch err := d.link(from, to); {
	case err == nil:
		return ids, nil
	case errors.Is(err, fs.ErrExist):
		if first, ok := f.readPhases(name, fingerprint); ok {
			return first, nil
		}
	}
	if err := d.rename(from, to); err != nil { // a disk without second names, or a damaged file; all shares find the same phases
		return nil, folderError(f.dir, err)
	}
	return ids, nil
}

// forgetDecisions removes decisions of shares that no longer hold.
func (f *SeriesFolder) forgetDecisions() {
	if f.share > 0 {
		return
	}
	found, _ := filepath.Glob(filepath.Join(quoteGlob(f.dir), sharedPhases))
	for _, path := range found {
		var k keptPhases
		if raw, err := os.ReadFile(path); err == nil && json.Unmarshal(raw, &k) == nil && k.Schema == phasesSchema {
			_ = os.Remove(path)
		}
	}
}

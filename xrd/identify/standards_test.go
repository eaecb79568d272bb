package identify

import (
	"encoding/csv"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/xrdtest"
)

// standards are the 20 lists of spacings of certified reference materials by the id of the phase in the starter collection.
var standards = map[string]string{
	"Al": "aluminium", "Au": "gold", "CeO2": "ceria", "Cr2O3": "eskolaite", "LaB6_SRM660a": "lanthanum-hexaboride",
	"LaB6_SRM660b": "lanthanum-hexaboride", "LaB6_SRM660c": "lanthanum-hexaboride", "NaCl": "halite", "Ni": "nickel", "Pt": "platinum",
	"Si_SRM640": "silicon", "Si_SRM640a": "silicon", "Si_SRM640b": "silicon", "Si_SRM640c": "silicon", "Si_SRM640d": "silicon",
	"Si_SRM640e": "silicon", "TiO2": "rutile", "ZnO": "zincite", "alpha_Al2O3": "corundum", "quartz": "quartz",
}

// TestStandardsIdentifyThemselves makes a scan of the spacings of each list (read; shared/reference) and looks for it in the
// whole starter collection. The lists have no intensities: those of the starter's line at the same spacing are taken. The
// first phase found must be the standard.
func TestStandardsIdentifyThemselves(t *testing.T) {
	f, err := os.Open("../../../shared/reference/b_srm_dspacing_lists.csv")
	if err != nil {
		t.Skip("SKIPPED: the lists of standard reference materials are not here; TestStickPatternIdentifiesItself makes the same claim of the starter's own lines")
	}
	defer f.Close()
	reader := csv.NewReader(f)
	reader.Comment, reader.FieldsPerRecord = '#', -1
	rows, err := reader.ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	lists := map[string][]float64{}
	for _, row := range rows[1:] {
		d, err := strconv.ParseFloat(row[column["d_A"]], 64)
		require.NoError(t, err)
		lists[row[0]] = append(lists[row[0]], d)
	}
	require.Len(t, lists, 20)
	for _, name := range xrdtest.Some(t, slices.Sorted(maps.Keys(lists)), 4) {
		t.Run(name, func(t *testing.T) { identifiesItself(t, standards[name], lists[name]) })
	}
}

// The same for the starter collection's own spacings of the same phases.
func TestStickPatternIdentifiesItself(t *testing.T) {
	for _, id := range []string{"silicon", "corundum", "quartz", "nickel", "zincite"} {
		identifiesItself(t, id, nil)
	}
}

// identifiesItself makes a scan of spacings (nil: the phase's own) and checks which phase comes first.
func identifiesItself(t *testing.T, id string, spacings []float64) {
	t.Helper()
	lib := library.Starter()
	job := specimen{lo: 15, hi: 140}.job(t, lib)
	phase := phaseOf(t, id, job.Beam)
	if spacings == nil {
		for _, l := range phase.Lines {
			spacings = append(spacings, l.D)
		}
	}
	r := job.Setup.Radiation
	p := xrdtest.Pattern{Lo: 15, Hi: 140, Step: 0.02, Radiation: r, Background: func(float64) float64 { return 30 }}
	for _, d := range spacings {
		at, ok := xrd.TwoTheta(d, r.KAlpha1)
		if !ok {
			continue
		}
		for _, l := range phase.Lines {
			if math.Abs(l.D/d-1) < 0.002 {
				fwhm, eta := xrd.ThompsonCoxHastings(job.Setup.Instrument.GaussianFWHM(at), job.Setup.Instrument.LorentzianFWHM(at))
				p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: 4 * l.Intensity, FWHM: fwhm, Eta: eta})
				break
			}
		}
	}
	require.NotEmpty(t, p.Lines, id)
	counts := xrdtest.Count(t, p.Angles(), p.Expected(p.Angles()), 1).Intensity
	job.Setup = pattern.Setup{TwoTheta: p.Angles(), Intensity: counts, Sigma: firstSigma(pattern.Setup{TwoTheta: p.Angles(), Intensity: counts, Gain: 1}), Gain: 1,
		Radiation: r, Instrument: job.Setup.Instrument}
	out := run(t, job)
	require.NotEmpty(t, out.Matches, id)
	best := 0
	for k, m := range out.Matches {
		if m.Significance > out.Matches[best].Significance {
			best = k
		}
	}
	assert.Equal(t, id, out.Matches[best].Phase.ID)
}

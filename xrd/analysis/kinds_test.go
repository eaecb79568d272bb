package analysis_test

import (
	"math"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/identify"
	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
	"phasetally/xrd/xrdtest"
)

// A kind is a kind of scan on which an answer was once sure and wrong, drawn anew.
type kind struct {
	name     string
	long     bool                 // takes seconds
	made     []simulate.Component // phases by id only
	stated   string               // radiation; that of the scan unless told
	tube     string               // of the scan; Cu unless told
	lo, hi   float64              // degrees; 15 to 95 unless told
	step     float64              // degrees; 0.02 unless told
	rate     float64              // of simulate.Job; 4000 unless told
	halo     bool
	coated   float64  // share of W Lα
	kBeta    float64  // share of Kβ
	assumed  bool     // nobody stated the tube
	elements string   // stated, with commas
	without  []string // phases that the reference data lack
	named    []string // phases that the user names; none: they are searched for
	stripped bool     // of Kα2
	gain     float64  // counts of the scan for one that was counted; 1 unless told
	spike    *analysis.Spike
	through  func(counts float64) float64 // what somebody did to the counts; nothing unless told
	known    identify.Collection          // of the user; the starter collection unless told
	judge    func(t *testing.T, doc result.Document)
}

func of(id string, wt float64) simulate.Component {
	return simulate.Component{Phase: refdata.Phase{ID: id}, WeightPercent: wt}
}

// job draws the scan.
func (k kind) job(t *testing.T) analysis.Job {
	t.Helper()
	or := func(s, other string) string {
		if s == "" {
			return other
		}
		return s
	}
	number := func(v, other float64) float64 {
		if v == 0 {
			return other
		}
		return v
	}
	tube, err := xrd.ParseRadiation(or(k.tube, "Cu"))
	require.NoError(t, err)
	s := simulate.Job{Radiation: tube, Instrument: xrd.DefaultInstrument(), Lo: number(k.lo, 15), Hi: number(k.hi, 95), Step: number(k.step, 0.02), Time: 1,
		Rate: number(k.rate, 4000) / number(k.gain, 1), Background: 40 / number(k.gain, 1), WLAlpha: k.coated, KBeta: k.kBeta}
	if k.stripped {
		s.Radiation.Ratio = 0
	}
	if k.halo {
		s.Haloes = []simulate.Halo{{D: 3.8, Width: 9, Height: 300}}
	}
	lib := library.Starter()
	for n, c := range k.made {
		i, ok := lib.Find(c.Phase.ID)
		require.True(t, ok, c.Phase.ID)
		c.Phase, err = lib.Phase(i, refdata.Beam{Radiation: tube})
		require.NoError(t, err)
		c.Phase.ID += strconv.Itoa(n)          // parts of a phase may differ
		c.Phase.SolidSolution = c.Stretch != 0 // the specimen's cell may be where it likes
		s.Components = append(s.Components, c)
	}
	made, err := simulate.Run(s)
	require.NoError(t, err)
	counts := simulate.Count(made.Expected, 11)
	for i, n := range counts {
		counts[i] = math.Round(n * number(k.gain, 1))
		if k.through != nil {
			counts[i] = k.through(counts[i])
		}
	}
	scan, err := xrd.NewScan(made.TwoTheta, counts, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	j := job(t, scan, or(k.stated, or(k.tube, "Cu")))
	j.RadiationAssumed, j.Specimen.Section = k.assumed, "powder"
	j.Phases, j.Spike = k.named, k.spike
	if k.known != nil {
		j.Collection = k.known
	}
	j.Filter.Exclude = k.without
	if k.elements != "" {
		j.Filter.Elements = elements(t, k.elements)
	}
	return j
}

// noneSure wants no name that is more than tentative, and no complete explanation.
func noneSure(t *testing.T, doc result.Document) {
	t.Helper()
	assert.NotEqual(t, result.Complete, doc.Explanation.Verdict)
	for _, p := range doc.Phases {
		assert.Equal(t, result.Tentative, p.Evidence, p.ID)
	}
}

// sureOnlyOf wants no name beyond some that is more than tentative.
func sureOnlyOf(ids ...string) func(*testing.T, result.Document) {
	return func(t *testing.T, doc result.Document) {
		t.Helper()
		for _, p := range doc.Phases {
			if p.Evidence != result.Tentative {
				assert.Contains(t, ids, p.ID)
			}
		}
	}
}

// withheld wants a stop and no fractions.
func withheld(t *testing.T, doc result.Document) {
	t.Helper()
	stop := false
	for _, c := range doc.Cautions {
		stop = stop || c.Severity == xrd.SeverityStop
	}
	assert.True(t, stop)
	for _, p := range doc.Phases {
		assert.Nil(t, p.WeightPercent, p.ID)
	}
}

var kinds = []kind{
	{name: "a textured film of few lines whose phase is not in the reference data", hi: 60, without: []string{"strontium-titanate"},
		made:  []simulate.Component{{Phase: refdata.Phase{ID: "strontium-titanate"}, WeightPercent: 100, Pole: [3]int{1, 0, 0}, March: 0.4}},
		judge: noneSure},
	{name: "a salt of low symmetry whose phase is not in the reference data, elements given", elements: "C,H,N,Cl", made: []simulate.Component{of("gypsum", 100)},
		judge: noneSure},
	{name: "a single perovskite oxide that is not in the reference data, elements given", elements: "La,Sr,Co,O", without: []string{"lsco-214"},
		made: []simulate.Component{of("lsco-214", 100)}, judge: noneSure},
	{name: "a conducting film on glass, elements given: preparation phases are not the specimen", elements: "In,Sn,O", halo: true,
		made: []simulate.Component{{Phase: refdata.Phase{ID: "yttria"}, WeightPercent: 100, Stretch: -0.0459}}, judge: func(t *testing.T, doc result.Document) {
			noneSure(t, doc)
			withheld(t, doc)
		}},
	{name: "a mineral in coarse steps with another tube that nobody stated, its phase not in the reference data", long: true, tube: "Co", stated: "Cu", assumed: true, lo: 5, hi: 52, step: 0.05,
		without: []string{"barite"}, made: []simulate.Component{{Phase: refdata.Phase{ID: "barite"}, WeightPercent: 90, SizeNM: 25}, of("quartz", 10)}, judge: noneSure},
	{name: "a short scan of two isotypes, elements given", elements: "Cu,Sn", lo: 25, hi: 47, made: []simulate.Component{of("bronze-alpha", 60), of("copper", 40)},
		judge: sureOnlyOf("bronze-alpha", "copper")},
	{name: "oxides read with another tube than was used", long: true, tube: "Co", stated: "Cu", made: []simulate.Component{of("corundum", 40), of("rutile", 30), of("zincite", 30)},
		judge: func(t *testing.T, doc result.Document) {
			noneSure(t, doc)
			withheld(t, doc)
		}},
	{name: "named oxides read with another tube than was used", tube: "Cu", stated: "Fe", named: []string{"corundum", "rutile", "zincite"},
		made: []simulate.Component{of("corundum", 33), of("rutile", 33), of("zincite", 34)}, judge: func(t *testing.T, doc result.Document) {
			withheld(t, doc)
			assert.Equal(t, "Cu", doc.Explanation.Radiation)
		}},
	{name: "an element of the specimen is not given", elements: "Cu", made: []simulate.Component{of("bronze-alpha", 50), of("cu6sn5-eta", 30), of("copper", 20)},
		judge: func(t *testing.T, doc result.Document) {
			assert.NotEqual(t, result.Complete, doc.Explanation.Verdict)
			sureOnlyOf("copper")(t, doc)
			require.NotNil(t, doc.Explanation.Rest, "what would explain the rest")
			assert.Equal(t, []string{"Sn"}, doc.Explanation.Rest.Elements)
			said := ""
			for _, c := range doc.Cautions {
				said += c.Remedy
			}
			assert.Contains(t, said, "you gave no Sn")
		}},
	{name: "minerals with a line where a coated anode would put one", made: []simulate.Component{of("gypsum", 40), of("dolomite", 30), of("quartz", 30)},
		judge: func(t *testing.T, doc result.Document) {
			assert.False(t, has(doc, "tungsten-line"))
			assert.False(t, has(doc, "k-beta"))
			assert.Equal(t, result.Complete, doc.Explanation.Verdict)
		}},
	{name: "a coated anode", coated: 0.01, made: []simulate.Component{of("gypsum", 60), of("quartz", 40)}, judge: func(t *testing.T, doc result.Document) {
		assert.True(t, has(doc, "tungsten-line"))
	}},
	{name: "Kβ of a line beyond the end of the scan", rate: 40000, kBeta: 0.02, made: []simulate.Component{of("silicon", 100)}, judge: func(t *testing.T, doc result.Document) {
		assert.Empty(t, doc.UnexplainedPeaks) // 440 at 106.7° sends its Kβ to 92.95°
		assert.Equal(t, result.Complete, doc.Explanation.Verdict)
	}},
	{name: "very high counts of a phase that is not in the reference data, tube stated", long: true, rate: 400000, without: []string{"ybco-123"}, made: []simulate.Component{of("ybco-123", 100)},
		judge: func(t *testing.T, doc result.Document) {
			noneSure(t, doc)
			assert.False(t, has(doc, "radiation-doubtful"))
		}},
	{name: "a third phase is not named", named: []string{"zincite", "rutile"}, made: []simulate.Component{of("zincite", 33), of("rutile", 33), of("corundum", 34)},
		judge: func(t *testing.T, doc result.Document) {
			assert.Equal(t, result.Partial, doc.Explanation.Verdict)
			assert.LessOrEqual(t, *phase(t, doc, "zincite").WeightPercentLo, 33.0)
			assert.LessOrEqual(t, *phase(t, doc, "rutile").WeightPercentLo, 33.0)
		}},
	{name: "a cell beyond the bound of what is tried", named: []string{"corundum", "rutile"},
		made: []simulate.Component{{Phase: refdata.Phase{ID: "corundum"}, WeightPercent: 60, Stretch: 0.0085}, of("rutile", 40)}, judge: func(t *testing.T, doc result.Document) {
			c := caution(t, doc, "solid-solution")
			assert.Contains(t, c.Text, "ended at the bound")
			assert.Contains(t, c.Remedy, "--solid-solution corundum")
			assert.Nil(t, phase(t, doc, "corundum").CellU)
			assert.Equal(t, result.Tentative, phase(t, doc, "corundum").Evidence)
			require.NotNil(t, phase(t, doc, "rutile").CellU)
			assert.Positive(t, phase(t, doc, "rutile").CellU.A)
		}},
	{name: "everything is there", made: []simulate.Component{of("zincite", 33), of("rutile", 33), of("corundum", 34)}, judge: func(t *testing.T, doc result.Document) {
		assert.Equal(t, result.Complete, doc.Explanation.Verdict)
		assert.Empty(t, doc.Explanation.DoubtedPhases)
		require.Len(t, doc.Phases, 3)
		for _, p := range doc.Phases {
			assert.Equal(t, result.Established, p.Evidence, p.ID)
			assert.InDelta(t, 33, *p.WeightPercent, 2)
		}
	}},
}

// TestKinds: sure only when right, for each kind of scan on which an answer was once sure and wrong.
func TestKinds(t *testing.T) {
	for _, k := range slices.Concat(kinds, moreKinds) {
		t.Run(k.name, func(t *testing.T) {
			if k.long {
				xrdtest.Long(t, "the other kinds")
			}
			doc := run(t, k.job(t))
			assert.Len(t, doc.UnexplainedPeaks, len(doc.Explanation.LeftOverPeaks), "told in both places, also where no phase is found")
			k.judge(t, doc)
		})
	}
}

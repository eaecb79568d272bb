package identify

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

func TestChanceGrowsWithTheChangeOfCell(t *testing.T) {
	n := null{perChange: 50, each: 0.25}
	assert.InDelta(t, 0.2, n.chance(0.002), 1e-12, "50 phases per relative change, on both sides")
	assert.InDelta(t, 0.2, n.chance(-0.002), 1e-12)
	assert.InDelta(t, 0.05, n.chance(0), 1e-12, "no cell is met closer than published ones are known")
	assert.InDelta(t, 0.7*0.25/(2*0.008)*2*0.002, n.most(0.002, 0.008), 1e-12)
}

// isotypes returns phases of the type of copper with cells from −10 to +10 %, none within skip of copper's own.
func isotypes(t *testing.T, n int, skip float64) []refdata.Record {
	t.Helper()
	all := refdata.Starter()
	var copper refdata.Record
	for _, r := range all {
		if r.ID == "copper" {
			copper = r
		}
	}
	require.NotEmpty(t, copper.ID)
	var out []refdata.Record
	for i := range n {
		by := 0.9 + 0.2*(float64(i)+0.5)/float64(n)
		if math.Abs(by-1) < skip {
			continue
		}
		r := copper
		r.ID = "isotype-" + string(rune('a'+i/26)) + string(rune('a'+i%26))
		r.Cell.A, r.Cell.B, r.Cell.C = by*r.Cell.A, by*r.Cell.B, by*r.Cell.C
		r.KnownDensity = 0
		r.Strong = nil
		for _, l := range copper.Strong {
			l.D *= float32(by)
			r.Strong = append(r.Strong, l)
		}
		out = append(out, r)
	}
	return out
}

// among returns a search whose entries are one of the starter collection and, far behind, those of another.
func among(job Job, index int, others *library.Library) *search {
	s, _ := newSearch(job)
	s.entries = nil
	s.admit(index, library.Starter().Entry(index))
	for i := range others.Len() {
		s.admit(1e6+i, others.Entry(i))
	}
	s.screen = s.screenOf(job.Setup.Radiation)
	return s
}

// An attempt that the collection is expected to equal several times over by chance does not come in; the first phase does.
func TestRefuseByChance(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}, {"corundum", 100, 0}}, seed: 23}.job(t, library.Starter())
	job.Filter = Filter{Require: []string{"corundum", "copper"}}
	fit := run(t, job).Fit
	copper, _ := library.Starter().Find("copper")
	crowd := isotypes(t, 400, 1e-9)
	for r := range xrdtest.Synthetic(7, 600) {
		crowd = append(crowd, r)
	}
	p := 0
	for fit.Setup.Phases[p].ID != "copper" {
		p++
	}
	s := among(job, copper, library.FromRecords("none", "", nil))
	alone, _ := s.chanceOf(fit, p, copper, math.Inf(1))
	assert.Less(t, alone, 0.01, "one phase is no crowd")
	s = among(job, copper, library.FromRecords("many", "", crowd))
	// 400 cells over 20 %, of which 0.1 % is as close: 2 phases, by hand, less what is lost of lines at the ends.
	got, _ := s.chanceOf(fit, p, copper, math.Inf(1))
	assert.InDelta(t, 2, got, 1)
}

// With a crowd of isotypes in the collection, copper beside corundum is a matter of chance: of twenty such as close none is sure, which without
// the crowd both phases are. Corundum is found all the same.
func TestByChanceDoesNotHold(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}, {"corundum", 100, 0}}, seed: 23}.job(t, library.Starter())
	var two []refdata.Record
	for _, r := range refdata.Starter() {
		if r.ID == "copper" || r.ID == "corundum" {
			two = append(two, r)
		}
	}
	job.Collection = library.FromRecords("two", "", two)
	assert.Equal(t, map[string]result.Evidence{"copper": result.Established, "corundum": result.Established}, evidenceLevels(run(t, job)))
	job.Collection = library.FromRecords("many", "", append(two, isotypes(t, 2000, 1e-9)...))
	got := evidenceLevels(run(t, job))
	assert.Contains(t, got, "corundum")
	for id, level := range got {
		assert.True(t, id == "corundum" || level == result.Tentative || level == result.Probable, "%s is %s", id, level)
	}
}

// A large library that holds many phases of one type shows by its decoys that one of them meets any pattern of that type.
func TestOneOfManyIsotypesIsNotEstablished(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}}, seed: 21}.job(t, library.Starter())
	records := isotypes(t, 400, 0.0003)
	for r := range xrdtest.Synthetic(7, 1200) {
		records = append(records, r)
	}
	job.Collection = library.FromRecords("many", "", records)
	for id, w := range evidenceLevels(run(t, job)) {
		assert.Contains(t, []result.Evidence{result.Tentative, result.Probable}, w, id)
	}
	// The same cell without the crowd of its type is no matter of chance.
	records = append(records[:0:0], records[len(isotypes(t, 400, 0.0003)):]...)
	for _, r := range refdata.Starter() {
		if r.ID == "corundum" {
			records = append(records, r)
		}
	}
	job = specimen{parts: []part{{"corundum", 300, 0}}, seed: 21}.job(t, library.Starter())
	job.Collection = library.FromRecords("many", "", records)
	out := run(t, job)
	require.Equal(t, map[string]result.Evidence{"corundum": result.Established}, evidenceLevels(out))
	assert.Less(t, out.Matches[0].Chance, policy.Chance.Established)
}

// TestChanceDecidesTheName: among hundreds of other phases the four lines of copper are its own, among thousands they could be those
// of several.
func TestChanceDecidesTheName(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}}, seed: 21}.job(t, library.Starter())
	var records []refdata.Record
	for _, r := range refdata.Starter() {
		if r.ID == "copper" {
			records = append(records, r)
		}
	}
	for r := range xrdtest.Synthetic(7, 5000) {
		if records = append(records, r); len(records) == 601 {
			job.Collection = library.FromRecords("hundreds", "", records)
			assert.Equal(t, map[string]result.Evidence{"copper": result.Established}, evidenceLevels(run(t, job)))
		}
	}
	job.Collection = library.FromRecords("thousands", "", records)
	assert.Empty(t, evidenceLevels(run(t, job)))
}

// What else is unexplained must not make a phase look a matter of chance: copper is told beside a pattern that no phase explains.
func TestChanceIsNotThatOfOtherLines(t *testing.T) {
	xrdtest.Long(t, "TestRefuseByChance")
	job := specimen{parts: []part{{"corundum", 60, 0}, {"barite", 1500, 0}}, seed: 22}.job(t, library.Starter())
	var records []refdata.Record
	for r := range xrdtest.Synthetic(7, 1500) {
		records = append(records, r)
	}
	for _, r := range refdata.Starter() {
		if r.ID == "corundum" {
			records = append(records, r)
		}
	}
	job.Collection = library.FromRecords("many", "", records)
	assert.Contains(t, evidenceLevels(run(t, job)), "corundum")
}

func TestChanceLimitsTheEvidence(t *testing.T) {
	sure := tally{own: 5, seen: 5, pieces: 5, expected: 100, tested: 100}
	for _, c := range []struct {
		chance, hidden float64
		want           result.Evidence
	}{
		{0, 0.005, result.Established},
		{0.015, 0, result.Established},
		{0.015, 0.01, result.Probable},
		{0.03, 0, result.Probable},
	} {
		m := Match{Significance: 50, Chance: c.chance, hidden: c.hidden, Merit: Merit{M: 50}}
		w := whole{threshold: 5, coverage: Coverage{Share: 1, Verdict: result.Complete}}
		said := false
		for _, r := range w.reasons(sure, &m) {
			said = said || r.Code == "chance"
		}
		assert.Equal(t, c.chance >= policy.Chance.Established, said, "%+v", c)
		assert.Equal(t, c.want, w.evidenceLevel(sure, &m), "%+v", c)
	}
}

// gilded says of some phases of a collection, never of copper, that they are of gold.
type gilded struct {
	Collection
	gold func(i int) bool
}

func (g gilded) Entry(i int) refdata.Entry {
	e := g.Collection.Entry(i)
	if e.ID != "copper" && g.gold(i) {
		e.Elements = set(79)
	}
	return e
}

// TestChanceWithElements: given elements leave few phases, of which none is likely to meet the lines of copper; what the whole
// collection meets counts for as many as they leave.
func TestChanceWithElements(t *testing.T) {
	job := specimen{parts: []part{{"copper", 300, 0}}, seed: 21}.job(t, library.Starter())
	records := isotypes(t, 400, 0.0003)
	for _, r := range refdata.Starter() {
		if r.ID == "copper" {
			records = append(records, r)
		}
	}
	lib := library.FromRecords("many", "", records)
	job.Collection = gilded{lib, func(i int) bool { return i%2 == 0 }} // half of the isotypes are of other elements
	job.Filter = Filter{Elements: set(29)}
	half := run(t, job)
	require.Len(t, half.Matches, 1)
	assert.Greater(t, half.Matches[0].Chance, policy.Chance.Established)
	assert.NotEqual(t, result.Established, half.Matches[0].Evidence, "hundreds of its type are left")
	job.Collection = gilded{lib, func(int) bool { return true }}
	alone := run(t, job)
	assert.Equal(t, map[string]result.Evidence{"copper": result.Established}, evidenceLevels(alone))
	assert.Less(t, alone.Matches[0].Chance, 0.1*half.Matches[0].Chance)
}

func TestTakesPlace(t *testing.T) {
	for _, c := range []struct {
		deviance, rival, match float64
		want                   bool
	}{
		{-10, 0.002, 0.0001, true},
		{10, 0.0001, 0.002, false},
		{-3, 0.0002, 0.0001, true},  // both as published
		{-3, 0.0012, 0.0001, false}, // as good, but the match has its own cell
		{3, 0.0001, -0.0012, true},
		{3, 0.0002, 0.0001, false},
	} {
		assert.Equal(t, c.want, takesPlace(true, c.deviance, c.rival, c.match), "%+v", c)
		assert.False(t, takesPlace(false, c.deviance, c.rival, c.match), "what has no lines of its own takes no place")
	}
}

// TestStride: of a large library a sample is tried, each of which stands for several.
func TestStride(t *testing.T) {
	for n, want := range map[int]int{100: 1, 1500: 1, 1501: 2, 3001: 3, 99999: 67, 100000: 334, 500000: 1667} {
		assert.Equal(t, want, strideOf(n), "%d phases", n)
	}
}

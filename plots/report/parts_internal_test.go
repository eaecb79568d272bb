package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

// A first sentence ends at a full stop that a capital follows; numbers and abbreviations do not end it.
func TestFirstSentence(t *testing.T) {
	for text, want := range map[string]string{
		"One. Two.": "One.", "At 20.5° it is. And so on.": "At 20.5° it is.", "e.g. this one. Then.": "e.g. this one.", "No end": "No end", "": "", "A. b. C.": "A. b.",
	} {
		assert.Equal(t, want, firstSentence(text))
	}
}

// Words are joined as English does; texts of files lose what steers a terminal or turns the direction of writing, and nothing else.
func TestListsAndPlainTexts(t *testing.T) {
	assert.Equal(t, "", list(nil))
	assert.Equal(t, "a", list([]string{"a"}))
	assert.Equal(t, "a and b", list([]string{"a", "b"}))
	assert.Equal(t, "a, b and c", list([]string{"a", "b", "c"}))
	for text, want := range map[string]string{"Cu₆Sn₅ (η) – ü 中": "Cu₆Sn₅ (η) – ü 中", "a\tb\nc\rd": "a b c d", "\x1b[31mred\x07": "[31mred", "a\u202eb\u2066c\u200ed": "abcd", "\x80\xff": "\uFFFD"} {
		assert.Equal(t, want, plain(text))
	}
}

// Columns are aligned by what is seen, not by bytes: words to the left, numbers to the right, the last column as it is.
func TestAlignedColumns(t *testing.T) {
	got := align([][]string{{"phase", "f", "wt%", "evidence"}, {"ü", "Al₂O₃", "1.25", "x"}, {"zincite", "ZnO", "100.00", "yy"}})
	assert.Equal(t, "phase     f          wt%   evidence\nü         Al₂O₃     1.25   x\nzincite   ZnO     100.00   yy\n", got)
	for l := range strings.Lines(got) {
		assert.Equal(t, strings.TrimRight(l, " \n")+"\n", l, "no blanks at the end")
	}
}

// A value and its standard uncertainty keep the digits that the uncertainty bears.
func TestValueWithItsUncertainty(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{{123.456, 2.3, "123 ± 2"}, {123.456, 0.23, "123.5 ± 0.2"}, {123.456, 1.23, "123.5 ± 1.2"}, {0.5, 0.004, "0.500 ± 0.004"}} {
		assert.Equal(t, c.want, withU(c.v, c.u))
	}
	v := 12.34
	assert.Equal(t, "12.3", fixed(&v, 1))
	assert.Equal(t, "?", fixed(nil, 1))
}

// Numbers are picked evenly, both ends among them; all where there are few.
func TestPickedEvenly(t *testing.T) {
	assert.Equal(t, []int{0, 1, 2}, evenly(3, 5))
	assert.Empty(t, evenly(0, 5))
	for _, n := range []int{6, 100, 20000} {
		got := evenly(n, 5)
		assert.Len(t, got, 5)
		assert.Equal(t, 0, got[0])
		assert.Equal(t, n-1, got[4])
		for i := 1; i < 5; i++ {
			assert.InDelta(t, float64(n-1)/4, got[i]-got[i-1], 1.01)
		}
	}
	assert.Equal(t, []int{7, 11, 20}, pick([]int{7, 9, 11, 13, 20}, 3))
}

// Severities have words, the gravest first whatever their order.
func TestSeverities(t *testing.T) {
	assert.Equal(t, []string{"Stop", "Caution", "Note"}, []string{severityWord(xrd.SeverityStop), severityWord(xrd.SeverityCaution), severityWord(xrd.SeverityNote)})
	list := []xrd.Caution{{Code: "1", Severity: xrd.SeverityNote}, {Code: "2", Severity: xrd.SeverityStop}, {Code: "3", Severity: xrd.SeverityCaution}, {Code: "4", Severity: xrd.SeverityStop}}
	var codes string
	for _, c := range worstFirst(list) {
		codes += c.Code
	}
	assert.Equal(t, "2431", codes)
	assert.Equal(t, "1", list[0].Code, "the list itself stays")
	assert.Equal(t, plots.Limit(0.321), "0.33")
}

// What a standard says of the original specimen needs the amount of every phase: nothing is told where one of them, or the rest, is not known.
func TestOriginalNeedsEveryAmount(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	var doc result.Document
	own := []result.Phase{{Name: "a", WeightPercent: v(60), OriginalWeightPercent: v(30)}, {Name: "b", WeightPercent: v(40), OriginalWeightPercent: v(20)}}
	assert.Empty(t, original("s", doc, own, nil), "no standard")
	doc.Absolute = &result.Absolute{}
	assert.Empty(t, original("s", doc, own, nil), "the rest is not known")
	doc.Absolute.AmorphousWeightPercent = v(50)
	assert.Contains(t, original("s", doc, own, nil), "Of ")
	alone := original("s", doc, own[:1], nil)
	assert.Contains(t, alone, "The original specimen of s holds a 30.0 wt%")
	assert.NotContains(t, alone, "alone:", "one phase is 100 % of itself")
	own[1].OriginalWeightPercent = nil
	assert.Empty(t, original("s", doc, own, nil))
	assert.Equal(t, "an unknown amount of amorphous or unidentified material", amorphousPart(&result.Absolute{}, false))
	assert.Equal(t, "8.12 %", percent(0.0812))
}

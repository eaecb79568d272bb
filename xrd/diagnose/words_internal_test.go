package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
)

func TestDustIsNamedOnce(t *testing.T) {
	share := func(symbol string) []refdata.ElementShare {
		return []refdata.ElementShare{{Symbol: symbol, MassFraction: 1}}
	}
	lead := refdata.Phase{ID: "lead", Name: "lead", Composition: share("Pb")}
	litharge := refdata.Phase{ID: "litharge", Name: "litharge", Composition: share("Pb")}
	assert.Equal(t, " (only wet or under extraction, with the waste collected: the dust of lead is harmful)", dust(lead))
	assert.Contains(t, dust(lead, litharge), "the dust of lead and litharge is harmful")
	assert.Contains(t, dust(refdata.Phase{ID: "copper", Name: "copper", Composition: share("Cu")}), "as with any dust")
}

func TestLowerFirst(t *testing.T) {
	assert.Equal(t, "silicon carbide abrasive", lowerFirst("Silicon carbide abrasive"))
	for _, s := range []string{"SiC abrasive", "Ni powder", "B4C", "", "A"} {
		assert.Equal(t, s, lowerFirst(s))
	}
}

func TestNumbersInWords(t *testing.T) {
	assert.Equal(t, "0.600 ± 0.002", coefficient(0.6, 0.0016))
	assert.Equal(t, "0.600 ± 0.001", coefficient(0.6, 0))
	assert.Equal(t, "0.83 ± 0.02", coefficient(0.83, 0.02))
	assert.Equal(t, "5 times as high as the background below it", heightOver(503, 100))
	assert.Equal(t, "its height is 41 % of the background below it", heightOver(41, 100))
	assert.Equal(t, "41 high", heightOver(41, 0))
	powder := Evidence{}
	powder.Facts.Specimen.Section = "powder"
	assert.NotContains(t, powder.lessTexture(), "section")
}

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

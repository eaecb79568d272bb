package plots

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestSubscripts(t *testing.T) {
	for in, want := range map[string]string{
		"Cu6Sn5 (η)": "Cu₆Sn₅ (η)", "Cu0.923Sn0.077": "Cu₀.₉₂₃Sn₀.₀₇₇", "CaSO4·2H2O": "CaSO₄·2H₂O", "Ca(OH)2": "Ca(OH)₂", "(Mg,Fe)2SiO4": "(Mg,Fe)₂SiO₄",
		"YBa2Cu3O7−x": "YBa₂Cu₃O₇−x", "Al2O3, Fe2O3.": "Al₂O₃, Fe₂O₃.", "Ca5(PO4)3OH": "Ca₅(PO₄)₃OH",
		"phase number 7": "phase number 7", "bronze (α)": "bronze (α)", "mixture A2": "mixture A2", "SiC 6H": "SiC 6H", "": "", "file-Cu2.xy": "file-Cu2.xy",
	} {
		assert.Equal(t, want, Subscripts(in))
	}
	assert.Equal(t, "Cu<2>O", Lowered("Cu2O", func(n string) string { return "<" + n + ">" }))
}

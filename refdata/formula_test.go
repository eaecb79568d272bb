package refdata_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
)

func ExampleParseFormula() {
	gypsum, err := refdata.ParseFormula("CaSO4·2H2O")
	fmt.Printf("%.2f g/mol, %v\n", gypsum.Mass(), err)
	_, err = refdata.ParseFormula("Fe(1-x)O")
	fmt.Println(err)
	// Output:
	// 172.17 g/mol, <nil>
	// not a chemical formula: "Fe(1-x)O": "1" is no element
}

func TestParseFormula(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"Cu6Sn5", "Cu6 Sn5"},
		{"CaMg(CO3)2", "Ca1 Mg1 C2 O6"},
		{"CaSO4·2H2O", "Ca1 S1 O6 H4"},
		{"CaSO4(H2O)2", "Ca1 S1 O6 H4"},
		{"CaSO4*0.5H2O", "Ca1 S1 O4.5 H1"},
		{"Fe0.942O", "Fe0.942 O1"},
		{"Ca C O3", "Ca1 C1 O3"},
		{"K4[Fe(CN)6]", "K4 Fe1 C6 N6"},
		{"Y₂O₃", "Y2 O3"},
		{"D2O", "H2 O1"},
		{"CO", "C1 O1"}, {"Co", "Co1"},
	} {
		f, err := refdata.ParseFormula(c.text)
		require.NoError(t, err, c.text)
		var parts []string
		for _, a := range f {
			parts = append(parts, fmt.Sprintf("%s%.6g", a.Element.Symbol, a.Atoms))
		}
		assert.Equal(t, c.want, strings.Join(parts, " "), c.text)
	}
}

func TestParseFormulaRefuses(t *testing.T) {
	for _, text := range []string{"", "2", "x", "Xx", "cu", "Cu(", "Cu)", "()", "CuO·", "Cu0", "Cu1.2.3", "Fe1-xO", "Cu9999999999",
		strings.Repeat("(", 20) + "Cu" + strings.Repeat(")", 20), strings.Repeat("Cu", 200), "Corundum", "bronze"} {
		_, err := refdata.ParseFormula(text)
		assert.ErrorIs(t, err, refdata.ErrFormula, text)
	}
}

func TestFormulaComposition(t *testing.T) {
	f, err := refdata.ParseFormula("Cu3Sn")
	require.NoError(t, err)
	shares := f.Composition()
	// derived: 3·63.546/(3·63.546 + 118.710), atomic weights IUPAC (from memory)
	assert.InDelta(t, 0.61627, shares[0].MassFraction, 2e-5)
	assert.InDelta(t, 1, shares[0].MassFraction+shares[1].MassFraction, 1e-15)
	assert.True(t, f.Elements().Has(29) && f.Elements().Has(50) && f.Elements().Len() == 2)
}

func FuzzParseFormula(f *testing.F) {
	for _, s := range []string{"Cu6Sn5", "CaMg(CO3)2", "CaSO4·2H2O", "((((", "Fe0.942O", "2", "Cu1e9", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		parsed, err := refdata.ParseFormula(text)
		if err != nil {
			require.ErrorIs(t, err, refdata.ErrFormula)
			return
		}
		var b strings.Builder
		for _, a := range parsed {
			fmt.Fprintf(&b, "%s%.17f", a.Element.Symbol, a.Atoms)
		}
		again, err := refdata.ParseFormula(b.String())
		if math.Abs(parsed.Mass()) < 1e-9 || b.Len() > 300 {
			return // amounts too small or too many to print
		}
		require.NoError(t, err, b.String())
		require.Equal(t, parsed.Elements(), again.Elements())
		require.InEpsilon(t, 1+parsed.Mass(), 1+again.Mass(), 1e-9)
	})
}

// Package element holds what X-ray diffraction needs to know of an atom: scattering factors, anomalous dispersion, mass attenuation and
// atomic weight, embedded. Atoms are neutral; deuterium and tritium count as hydrogen.
//
// Energies enter as wavelengths in Å; scattering is in electrons, attenuation in cm²/g.
//
// # Sources
//
//   - scattering factors: International Tables for Crystallography C (1992), table 6.1.1.4, neutral atoms
//   - dispersion, Z <= 70: Cromer & Liberman, Acta Cryst. A37 (1981) 267
//   - dispersion, Z > 70: Chantler, J. Phys. Chem. Ref. Data 24 (1995) 71 and 29 (2000) 597
//   - mass attenuation: EPDL97 (Cullen, Hubbell & Kissel, UCRL-50400 vol. 6 rev. 5, 1997), total cross-section
//   - atomic weights: IUPAC standard values of 2005; zinc of 2007, molybdenum of 2013
package element

import (
	_ "embed"
	"math"
	"strconv"
	"strings"
	"sync"
)

// MaxZ is the heaviest element with scattering factors. Attenuation and dispersion end at uranium, 92.
const MaxZ = 96

// An Element is one row of the tables.
type Element struct {
	Symbol string  // as usual, "Fe"
	Z      int     // atomic number
	Weight float64 // relative atomic mass; 0 above uranium
	a, b   [4]float64
	c      float64
}

// Metal tells whether the element is a metal (the usual division of the periodic table; of the semi-metals, antimony
// counts as one, for it alloys like one, and B, Si, Ge, As, Te, Po, At do not).
func (e *Element) Metal() bool {
	switch z := e.Z; {
	case z <= 2, z >= 5 && z <= 10, z >= 14 && z <= 18, z >= 32 && z <= 36, z >= 52 && z <= 54, z >= 84 && z <= 86:
		return false
	}
	return true
}

// F0 returns the scattering factor, electrons, of the neutral atom at s² = (sin θ/λ)² in Å⁻²: Σ a exp(−b s²) + c, good for s
// up to 2 Å⁻¹.
func (e *Element) F0(s2 float64) float64 {
	f := e.c
	for i, a := range e.a {
		f += a * math.Exp(-e.b[i]*s2)
	}
	return f
}

//go:embed data/scattering.csv
var scatteringCSV string

//go:embed data/attenuation.csv
var attenuationCSV string

//go:embed data/dispersion.csv
var dispersionCSV string

// tables are all data by atomic number.
type tables struct {
	elements   [MaxZ + 1]Element
	bySymbol   map[string]int
	mu         [MaxZ + 1][nAnodes]float64
	dispersion [2][MaxZ + 1][nAnodes][2]float64 // Chantler, Cromer & Liberman; f′, f″
}

var load = sync.OnceValue(func() *tables {
	t := &tables{bySymbol: make(map[string]int, MaxZ+2)}
	rows(scatteringCSV, func(symbol string, z int, v []float64) {
		e := &t.elements[z]
		e.Symbol, e.Z, e.c = symbol, z, v[8]
		for i := range e.a {
			e.a[i], e.b[i] = v[2*i], v[2*i+1]
		}
		t.bySymbol[strings.ToUpper(symbol)] = z
	})
	t.bySymbol["D"], t.bySymbol["T"] = 1, 1
	rows(attenuationCSV, func(_ string, z int, v []float64) {
		t.elements[z].Weight = v[0]
		copy(t.mu[z][:], v[1:])
	})
	rows(dispersionCSV, func(_ string, z int, v []float64) {
		for i := range nAnodes {
			t.dispersion[0][z][i] = [2]float64{v[2*i], v[2*i+1]}
			t.dispersion[1][z][i] = [2]float64{v[2*(nAnodes+i)], v[2*(nAnodes+i)+1]}
		}
	})
	return t
})

// rows calls each with the rows of an embedded table, which a test has checked: symbol, z, numbers.
func rows(csv string, each func(symbol string, z int, v []float64)) {
	for line := range strings.Lines(csv) {
		fields := strings.Split(strings.TrimSpace(line), ",")
		z, err := strconv.Atoi(fields[min(1, len(fields)-1)])
		if err != nil || strings.HasPrefix(line, "#") {
			continue // comments and headings
		}
		v := make([]float64, len(fields)-2)
		for i, f := range fields[2:] {
			v[i], _ = strconv.ParseFloat(f, 64)
		}
		each(fields[0], z, v)
	}
}

// Lookup returns the element of a symbol, in any case; D and T are hydrogen. It reports false for any other text.
func Lookup(symbol string) (*Element, bool) {
	z, ok := load().bySymbol[strings.ToUpper(symbol)]
	if !ok {
		return nil, false
	}
	return &load().elements[z], true
}

// ByZ returns the element of an atomic number. It reports false outside 1 to MaxZ.
func ByZ(z int) (*Element, bool) {
	if z < 1 || z > MaxZ {
		return nil, false
	}
	return &load().elements[z], true
}

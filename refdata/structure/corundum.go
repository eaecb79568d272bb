package structure

import (
	"math"
	"sync"

	"phasetally/refdata"
	"phasetally/xrd"
)

// Corundum returns the structure that every RIR refers to: α-Al2O3 with the cell of NIST SRM 676a, a = 4.7591, c = 12.9918 Å, and
// positions and displacements after Kirfel & Eichhorn, Acta Cryst. A46 (1990) 271, and Lewis, Schwarzenbach & Flack, Acta Cryst. A38
// (1982) 733 (from memory).
func Corundum() refdata.Record {
	return refdata.Record{
		ID: "corundum", Name: "corundum", Formula: "Al2O3", SpaceGroup: "R -3 c:H",
		Cell: refdata.Cell{A: 4.7591, B: 4.7591, C: 12.9918, Alpha: 90, Beta: 90, Gamma: 120},
		Atoms: []refdata.Atom{
			{Label: "Al", Element: "Al", Z: 0.35216, Occupancy: 1, B: 0.24},
			{Label: "O", Element: "O", X: 0.30624, Z: 0.25, Occupancy: 1, B: 0.29},
		},
		KnownDensity: 3.987,
		Source:       "cell: NIST SRM 676a; atoms: Kirfel & Eichhorn, Acta Cryst. A46 (1990) 271; Lewis, Schwarzenbach & Flack, Acta Cryst. A38 (1982) 733",
		Confidence:   "high",
	}
}

var corundum = sync.OnceValue(func() *Structure {
	s, err := FromRecord(Corundum())
	if err != nil {
		return nil // a test says that this does not happen
	}
	return s
})

// corundum113 returns I/(V² ρ) of corundum's line 113 for a beam; 0 when the wavelength is too long for it. 113 and its
// equivalents are 12 reflections that coincide with no others.
func corundum113(beam refdata.Beam) float64 {
	s := corundum()
	wavelength := beam.Radiation.KAlpha1
	line := []reflection{{h: 1, k: 1, l: 3, multiplicity: 12, q2: s.reciprocal.Norm2(1, 1, 3)}}
	if !(wavelength*math.Sqrt(line[0].q2) < 2) {
		return 0
	}
	if _, err := s.structureFactors(line, wavelength); err != nil {
		return 0
	}
	lp := xrd.LorentzPolarization(angle(line[0].q2, wavelength), beam.Monochromator.PolarizationRatio())
	return s.absolute(float64(line[0].multiplicity) * line[0].f2 * lp)
}

package element

import "math"

// nAnodes tubes are tabulated: Cr, Fe, Co, Cu, Mo, Ag.
const nAnodes = 6

// wavelengths of Kα1, Å, of the tabulated anodes: NIST SRD 128 energies over 12398.41857 eV Å.
var wavelengths = [nAnodes]float64{2.28972599, 1.93604100, 1.78899601, 1.54059291, 0.70931716, 0.55942178}

// A Basis says how a number for a wavelength came about.
type Basis int

// The bases: no data; tabulated for the anode within 0.1 %; interpolated between two anodes that no absorption edge
// separates; scaled from the nearest anode (f″ ∝ λ², μ ∝ λ³, f′ unchanged), which may be wrong by a factor of several when an edge
// lies between.
const (
	Missing Basis = iota
	Tabulated
	Interpolated
	Scaled
)

// String returns the basis in a word.
func (b Basis) String() string {
	return [...]string{"missing", "tabulated", "interpolated", "scaled"}[b]
}

// A DispersionTable is one of the two embedded tables of f′ and f″.
type DispersionTable int

// The tables. They differ by less than 0.1 electrons below ytterbium; above, where 1981's f′ is less good, Chantler's is taken.
const (
	Chantler DispersionTable = iota
	CromerLiberman
)

// BestTable returns the table that Dispersion takes for an atomic number.
func BestTable(z int) DispersionTable {
	if z > 70 {
		return Chantler
	}
	return CromerLiberman
}

// Dispersion returns f′ and f″, electrons, at a wavelength in Å, from the table that is best for the element.
func Dispersion(z int, wavelength float64) (fp, fpp float64, basis Basis) {
	return DispersionFrom(BestTable(z), z, wavelength)
}

// DispersionFrom is Dispersion from a named table.
func DispersionFrom(table DispersionTable, z int, wavelength float64) (fp, fpp float64, basis Basis) {
	if z < 1 || z > 92 || !(wavelength > 0) || table < 0 || table > 1 {
		return 0, 0, Missing
	}
	at := &load().dispersion[table][z]
	p := locate(wavelength, func(i int) bool { return edgeBetween(z, i) })
	switch p.basis {
	case Interpolated:
		fp = at[p.i][0] + p.share*(at[p.i+1][0]-at[p.i][0])
		return fp, between(at[p.i][1], at[p.i+1][1], p.share), p.basis
	case Scaled:
		return at[p.i][0], at[p.i][1] * math.Pow(wavelength/wavelengths[p.i], 2), p.basis
	}
	return at[p.i][0], at[p.i][1], p.basis
}

// MassAttenuation returns μ/ρ, cm²/g, at a wavelength in Å.
func MassAttenuation(z int, wavelength float64) (mu float64, basis Basis) {
	if z < 1 || z > 92 || !(wavelength > 0) {
		return 0, Missing
	}
	at := &load().mu[z]
	p := locate(wavelength, func(i int) bool { return edgeBetween(z, i) })
	switch p.basis {
	case Interpolated:
		return between(at[p.i], at[p.i+1], p.share), p.basis
	case Scaled:
		return at[p.i] * math.Pow(wavelength/wavelengths[p.i], 3), p.basis
	}
	return at[p.i], p.basis
}

// between interpolates on logarithmic scales, where both quantities are nearly straight; f″ of hydrogen is 0 there.
func between(x, y, share float64) float64 {
	if !(x > 0) || !(y > 0) {
		return x + share*(y-x)
	}
	return x * math.Pow(y/x, share)
}

// A position is a wavelength among the anodes: at i, or share of the way in ln λ from i to i+1.
type position struct {
	i     int
	share float64
	basis Basis
}

func locate(wavelength float64, edge func(i int) bool) position {
	nearest, distance := 0, math.Inf(1)
	for i, w := range wavelengths {
		d := math.Abs(math.Log(wavelength / w))
		if d < distance {
			nearest, distance = i, d
		}
	}
	if math.Abs(wavelength/wavelengths[nearest]-1) < 1e-3 {
		return position{i: nearest, basis: Tabulated}
	}
	for i := range nAnodes - 1 {
		if wavelength < wavelengths[i] && wavelength > wavelengths[i+1] && !edge(i) {
			return position{i, math.Log(wavelengths[i]/wavelength) / math.Log(wavelengths[i]/wavelengths[i+1]), Interpolated}
		}
	}
	return position{i: nearest, basis: Scaled}
}

// edgeBetween reports whether an absorption edge lies between anodes i and i+1. Without one f″ grows as λ to the power 1.4 to 2;
// a K or L edge makes that less than 1.3 or negative. Light elements have all edges beyond Cr Kα.
func edgeBetween(z, i int) bool {
	if z < 20 {
		return false
	}
	at := &load().dispersion[CromerLiberman][z]
	power := math.Log(at[i][1]/at[i+1][1]) / math.Log(wavelengths[i]/wavelengths[i+1])
	return !(power > 1.3)
}

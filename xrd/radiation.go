package xrd

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// WLAlpha is the wavelength, Å, of tungsten Lα1, which worn tubes emit: NIST SRD 128, 8398.242 eV (read), converted
// with 12398.41857 eV Å (Int. Tables C 4.2.2.14, read).
const WLAlpha = 1.47631118

// A Radiation is what the tube sends: wavelengths in Å. A monochromatic or stripped beam has Ratio 0.
type Radiation struct {
	Name    string  // the anode, "Cu"; or the wavelengths as given, "1.5406"
	KAlpha1 float64 // Å
	KAlpha2 float64 // Å; 0 when the beam has none
	KBeta   float64 // Å; 0 when unknown
	Ratio   float64 // intensity Kα2/Kα1; 0 for monochromatic or stripped data
}

// ErrUnknownRadiation says that a radiation is neither a known anode nor a wavelength; test with errors.Is.
var ErrUnknownRadiation = errors.New("unknown radiation")

// anodes are NIST SRD 128 energies (read) divided into 12398.41857 eV Å (Int. Tables C 4.2.2.14, read).
var anodes = []Radiation{
	{"Cr", 2.28972599, 2.29365100, 2.08488105, 0.5},
	{"Fe", 1.93604100, 1.93997299, 1.75660402, 0.5},
	{"Co", 1.78899601, 1.79283500, 1.62082590, 0.5},
	{"Cu", 1.54059291, 1.54442740, 1.39223398, 0.5},
	{"Mo", 0.70931716, 0.71360721, 0.63230332, 0.5},
	{"Ag", 0.55942178, 0.56381307, 0.49708162, 0.5},
}

// Anodes returns the six tubes that are known by name, in order of falling wavelength.
func Anodes() []Radiation { return slices.Clone(anodes) }

// ParseRadiation understands an anode ("Cu", "co", "Mo Ka", "Cu Kα"), one wavelength in Å ("1.5406": monochromatic) or two
// ("1.5406,1.5444": Kα1, Kα2). It returns ErrUnknownRadiation otherwise.
func ParseRadiation(s string) (Radiation, error) {
	name := strings.TrimSpace(s)
	anode := strings.TrimSuffix(strings.ToLower(strings.ReplaceAll(strings.ReplaceAll(name, "α", "a"), " ", "")), "ka")
	for _, r := range anodes {
		if strings.EqualFold(r.Name, anode) {
			return r, nil
		}
	}
	parts := strings.Split(name, ",")
	var wl [2]float64
	if len(parts) > 2 {
		return Radiation{}, fmt.Errorf("%w %q: give one of Cr, Fe, Co, Cu, Mo, Ag, or one or two wavelengths in Å", ErrUnknownRadiation, s)
	}
	for i, p := range parts {
		v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || !(v >= 0.1 && v <= 10) {
			return Radiation{}, fmt.Errorf("%w %q: give one of Cr, Fe, Co, Cu, Mo, Ag, or one or two wavelengths in Å (0.1 to 10)", ErrUnknownRadiation, s)
		}
		wl[i] = v
	}
	r := Radiation{Name: name, KAlpha1: wl[0], KAlpha2: wl[1]}
	if wl[1] > 0 {
		if !(wl[1] > wl[0] && wl[1] < 1.05*wl[0]) {
			return Radiation{}, fmt.Errorf("%w %q: Kα2 must be a little longer than Kα1", ErrUnknownRadiation, s)
		}
		r.Ratio = 0.5
	}
	return r, nil
}

// SameTube reports whether two wavelengths of Kα1 differ by less than 0.5 %, which those of two anodes do not.
func (r Radiation) SameTube(o Radiation) bool {
	return r.KAlpha1 > 0.995*o.KAlpha1 && r.KAlpha1 < 1.005*o.KAlpha1
}

// Anode returns the known tube whose Kα1 lies within 0.1 % of this radiation's, which decides the dispersion tables
// that apply. It reports false when there is none.
func (r Radiation) Anode() (Radiation, bool) {
	for _, a := range anodes {
		if d := r.KAlpha1/a.KAlpha1 - 1; d > -1e-3 && d < 1e-3 {
			return a, true
		}
	}
	return Radiation{}, false
}

// AloneOf returns the tube of which this single wavelength is Kα1, or the mean of the doublet, weighted by intensity. It reports
// false for two wavelengths, and for one that is neither.
func (r Radiation) AloneOf() (Radiation, bool) {
	if r.Ratio > 0 || r.KAlpha2 > 0 {
		return Radiation{}, false
	}
	for _, a := range anodes {
		mean := (a.KAlpha1 + a.Ratio*a.KAlpha2) / (1 + a.Ratio)
		if math.Min(math.Abs(r.KAlpha1-mean), math.Abs(r.KAlpha1-a.KAlpha1)) <= (mean-a.KAlpha1)/2 {
			return a, true
		}
	}
	return Radiation{}, false
}

// Text names a radiation as ParseRadiation reads it: a tube, or the wavelengths in Å with all digits.
func (r Radiation) Text() string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	if a, ok := r.Anode(); ok && a.KAlpha1 == r.KAlpha1 && a.KAlpha2 == r.KAlpha2 {
		return a.Name
	}
	if r.KAlpha2 > 0 {
		return number(r.KAlpha1) + "," + number(r.KAlpha2)
	}
	return number(r.KAlpha1)
}

// Broadness is by how many times more degrees what is broad takes with a wavelength, Å, than with Cu Kα1: a halo is as wide
// as it is in 1/d, times the wavelength. It stays within 0.4 and 1.6.
func Broadness(wavelength float64) float64 { return math.Min(math.Max(wavelength/1.5406, 0.4), 1.6) }

// Glowing returns the symbols of the elements that Kα of the tube makes fluoresce strongly: their K or L3 edge lies just below
// the energy of the line; nil for a beam that is not of a known tube. Source: Int. Tables C 4.2 (K and L3 edges, from memory).
func (r Radiation) Glowing() []string { return strings.Fields(glowing[r.Name]) }

var glowing = map[string]string{
	"Cu": "Fe Co Mn Cr Nd Pm Sm Eu Gd Tb Dy", "Co": "Mn Cr V", "Fe": "Cr V", "Cr": "Ti Sc",
	"Mo": "Y Sr Rb Br Se As Ge Ga Zn Cu Ni", "Ag": "Zr Nb Mo Ru",
}

// Filter returns the metal of the Kβ filter that goes with the tube, and its K edge, Å. It reports false for a beam that is not
// of a known tube. Source: K edges after Bearden & Burr, Rev. Mod. Phys. 39 (1967) 125 (from memory).
func (r Radiation) Filter() (metal string, edge float64, ok bool) {
	f, ok := filters[r.Name]
	return f.metal, f.edge, ok
}

var filters = map[string]struct {
	metal string
	edge  float64
}{"Cu": {"Ni", 1.48807}, "Co": {"Fe", 1.74346}, "Fe": {"Mn", 1.89643}, "Cr": {"V", 2.26910}, "Mo": {"Zr", 0.68883}, "Ag": {"Pd", 0.50920}}

// LinesUpTo returns how far, in 2θ of Kα1 (degrees), the lines of phases matter to a scan that ends at an angle: to the line whose Kβ lies
// at that end, since planes that diffract Kα beyond it send their Kβ into the scan; to the end itself where Kβ is not known.
func (r Radiation) LinesUpTo(end float64) float64 {
	if !(r.KBeta > 0) {
		return end
	}
	if main, ok := ImageTwoTheta(end, r.KBeta, r.KAlpha1); ok {
		return math.Max(end, main)
	}
	return 180
}

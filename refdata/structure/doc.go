// Package structure turns a crystal structure, cell, symmetry and atoms, into what a powder diffractometer sees of it: lines with
// their families and |F|², density, absorption and RIR, together a refdata.Phase for a beam.
//
// Conventions: neutral scattering factors with f′ + i f″ at Kα1 (package element), displacement factor exp(−B s²) on the amplitude,
// Friedel mates averaged, LP for a powder in Bragg–Brentano geometry, fixed slit. The RIR is by area at Kα1: the strongest line up to
// 150° over corundum 113 in a mixture 50:50 by weight, [I/(V² ρ)] of the phase over the same of corundum for the same beam.
// A computed RIR knows no microabsorption, extinction, texture or amorphous part; against measured ones it is 5–10 % too high in general.
//
// What a structure leaves open or contradicts is a caution, with a code: structure-b-default, structure-operators, structure-origin-guessed,
// structure-cell, structure-contact, structure-duplicate-site, structure-overfull-site, structure-atoms-without-place, structure-formula,
// structure-z, structure-dispersion, structure-hydrogen, structure-symmetry, structure-b-doubtful.
//
// Lengths are Å, angles degrees, B Å², densities g/cm³.
package structure

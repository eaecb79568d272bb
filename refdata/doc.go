// Package refdata holds what is known of a phase before anything is measured: its cell, composition, density and
// absorption, its RIR (reference intensity ratio, I/Ic) and its lines for one beam. It also carries the starter
// collection as published structures; package refdata/structure turns those into phases.
//
// Lengths are Å, angles degrees, densities g/cm³, absorption cm²/g (mass) and 1/cm (linear), intensities relative to
// the strongest line = 100.
package refdata

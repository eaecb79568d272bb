// Package xrd holds the values and pure functions that every room of phasetally shares: a Scan, the Radiation it was
// taken with, Bragg's law both ways, Lorentz-polarisation, the Instrument and the Specimen with the shifts and
// losses they cause, and the Caution that carries a doubt from the place that computed it to the person who reads it.
//
// Angles are degrees 2θ, lengths Å, specimen and goniometer dimensions mm, unless a name says otherwise. Nothing here
// reads files, clocks or globals.
package xrd

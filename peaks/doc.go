// Package peaks finds and measures the peaks of a scan without knowing any phase: noise model, background, search with
// a matched filter, and a least-squares fit of overlapping groups.
//
// A peak here is a Kα1/Kα2 doublet of one crystal spacing; its angle is that of Kα1 and its area that of both. Angles
// and widths are degrees 2θ, areas are intensity times degrees. Whatever makes a peak list doubtful is a caution of the
// result, never a silent change of it.
package peaks

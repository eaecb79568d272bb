// Package identify finds which phases of a collection explain a scan. It screens every allowed phase against a matched
// filter of what is still unexplained, adds the phase that explains most, refits the whole pattern and repeats; then it
// prunes, and says of every phase how well it is established and what else could explain its lines.
//
// Evidence is counted only where a phase's lines stand clear of stronger phases, and the threshold grows with the
// number of phases that were tried.
package identify

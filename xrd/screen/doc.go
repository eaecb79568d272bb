// Package screen ranks the phases of a collection, of up to hundreds of thousands, by how well they explain what is left of
// a scan.
//
// A matched filter tells for every angle how much intensity a line there would have. It is read off on a grid of equal
// ratios of spacing, where a change of cell shifts all lines of a phase alike, so that every displacement of the specimen and
// every cell can be tried by adding up. Of large collections most phases are left out by a bound on what they can gain,
// which none exceeds.
package screen

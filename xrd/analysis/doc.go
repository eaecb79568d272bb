// Package analysis runs the whole job on one scan, or on several of one specimen, and gives values of package result.
//
// The steps are values, each made from those before it: what is left of a scan after range and masks, with its peaks
// (prepared); which phases explain it, with what was decided on the way (explanation); how much of each there is (amounts);
// the document; and what package diagnose has against it.
package analysis

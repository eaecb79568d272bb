// Package resultfile writes the folder that an analysis leaves behind and reads it back: analysis.json, fit.csv,
// fractions.csv, peaks.csv, analysis.cif, a marker file that says the folder is ours, and whatever figures and reports
// the caller hands in as bytes.
//
// A folder appears whole or not at all: it is written beside its final place, synced, and renamed. It replaces an
// earlier one only on request, and only when that one carries the marker and holds nothing but files that were
// written here.
package resultfile

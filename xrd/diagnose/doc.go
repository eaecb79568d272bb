// Package diagnose holds the doubts that an analysis can compute. Each is a pure function of one value, the Evidence; Checks
// is the table of all of them, in the order in which they are told. Thresholds stand beside the function that uses them,
// with their source.
package diagnose

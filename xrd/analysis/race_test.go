//go:build race

package analysis_test

// raced says that the race detector slows everything down about tenfold.
const raced = true

package xrdtest

import "testing"

// Long leaves a test out of a short run (go test -short), and says what still makes its claim there, on less.
func Long(t testing.TB, besides string) {
	t.Helper()
	if testing.Short() {
		t.Skip("SKIPPED: long; without -short it runs. In a short run: ", besides)
	}
}

// Some returns the first n rows of a test in a short run, saying how many it leaves out, and all of them otherwise.
func Some[T any](t testing.TB, rows []T, n int) []T {
	t.Helper()
	if !testing.Short() || n >= len(rows) {
		return rows
	}
	t.Logf("SKIPPED: %d of %d rows; without -short all run", len(rows)-n, len(rows))
	return rows[:n]
}

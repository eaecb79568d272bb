package series

import "phasetally/xrd/result"

// A Share is the part of a series that one of several processes does: number K of Of, both counted from 1. The zero value
// is the whole series.
type Share struct{ K, Of int }

// Holds reports whether scan i, counted from 0, is in the share. A share takes every Of-th scan, so that scans that take
// long, which often lie beside each other, are spread over all shares.
func (s Share) Holds(i int) bool { return s.Of <= 1 || i%s.Of == s.K-1 }

// size is how many of n scans the share holds.
func (s Share) size(n int) int {
	count := 0
	for i := range n {
		if s.Holds(i) {
			count++
		}
	}
	return count
}

// own returns the entries of the scans that the share holds.
func (s Share) own(entries []result.SeriesEntry) []result.SeriesEntry {
	out := make([]result.SeriesEntry, 0, s.size(len(entries)))
	for i, e := range entries {
		if s.Holds(i) {
			out = append(out, e)
		}
	}
	return out
}

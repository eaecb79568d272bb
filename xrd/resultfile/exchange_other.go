//go:build !linux

package resultfile

func exchange(a, b string) error { return twoRenames(a, b) }

// Package analysis runs the whole job on one scan, or on many with the same phases, and gives values of package result.
package analysis

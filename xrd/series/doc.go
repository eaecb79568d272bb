// Package series analyses many scans with the same phases and the same model, and compares them.
package series

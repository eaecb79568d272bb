// Package library holds collections of phases that can be screened, looked up and computed: the starter collection,
// structures and lists from files, and large collections built once into one file on disk.
//
// A Library merges any of them. Screening reads its entries, which cost nothing; a phase is computed for a beam when it is
// asked for, and kept. Ids are matched without regard to case, and a later collection shadows an earlier one of the same
// id. All methods may be called from several goroutines at once.
//
// The built file is an SQLite database: the entries lie in large packed blobs that load fast, each phase's structure
// or list by itself. Bad input files are recorded in it and reported, never fatal.
package library

//go:generate go test -run TestStarterLinesAreFresh . -args -update

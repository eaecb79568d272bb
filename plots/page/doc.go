// Package page serves the page on which an analysis is looked at and changed: the answer, the pattern, what would be if, and how one
// got there. It listens on the loopback address only, for whoever has the key that the program prints; asks no other host for
// anything; and opens no file but those that were given or dropped.
//
// A choice goes to the session of its scan (package session), whose command line is solved anew; what is shown in the meantime is
// the answer before, marked as such. All open tabs show the same.
package page

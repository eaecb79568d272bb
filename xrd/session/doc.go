// Package session keeps the choices that somebody makes while looking at the analysis of one scan: what was tried, in which
// order, and what the command line is that gives the same answer. It is pure: it knows neither files nor pages. An answer is
// always that of a command line, through the loader of the program, so that what is shown can be reproduced to the byte.
package session

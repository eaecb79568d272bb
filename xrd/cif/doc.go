// Package cif reads and writes the syntax of the Crystallographic Information File: CIF 1.1 (Hall, Allen & Brown,
// Acta Cryst. A47 (1991) 655; Int. Tables G 2.2) and the quoting of CIF 2.0 (Bernstein et al., J. Appl. Cryst. 49 (2016)
// 277). It knows data blocks, items and loops, nothing of what they mean.
//
// Tags are compared without regard to case, and a dot counts as an underscore, so that _cell.length_a of the newer
// dictionaries is _cell_length_a of the older. Every value keeps its line for error messages. Input may have CRLF line ends, a
// byte order mark, and be UTF-8 or Latin-1. Whatever is refused is refused with an *xrd.SyntaxError.
package cif

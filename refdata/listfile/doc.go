// Package listfile reads and writes reference lists: tables of the lines of phases, as a spreadsheet saves them.
//
// One row is one line. The first row names the columns, in any order and case; hyphens and blanks count as underscores
// and a unit in brackets is ignored. Required are
//
//	phase       the phase's name; its id is the name in lower case with hyphens
//	d           spacing, Å; or two_theta, degrees for Kα1, with radiation or wavelength
//	intensity   integrated, fixed slit, on any scale: the strongest line of each phase becomes 100
//
// Optional are
//
//	id (when it is not to follow from the name), formula, space_group, source, confidence, preparation
//	radiation      anode, or wavelengths in Å, for which two_theta and the intensities hold (wavelength is the same)
//	monochromator  none, graphite or its angle in degrees 2θ
//	h, k, l, multiplicity, f2 (mean |F|², electrons²); families: further reflections of the same spacing, "5 1 1 24 340.2; …"
//	rir, rir_u (relative standard uncertainty), rir_origin (computed, measured), rir_basis (area, height), rir_radiation
//	density (g/cm³), density_origin (given, computed), z, mass_absorption (cm²/g at Kα1)
//	a, b, c (Å), alpha, beta, gamma (degrees): a missing edge equals a, a missing angle is 90
//	soluble        yes when the phase forms wide solid solutions (solid_solution is the same)
//	cautions       what is wrong with the structure behind the list: "structure-operators: text | …"
//
// What belongs to a phase may stand in any or all of its rows, but must not differ between them. Commas, semicolons
// and tabs separate; where it is not the comma, numbers may have decimal commas. Quoted fields, a byte-order mark,
// UTF-16, Windows-1252 and any line end are understood. Lines that begin with # and hold nothing else are comments.
//
// Refused is also what no crystal has: a density above osmium's or far from that of formula, z and cell, I/Ic above 100, a
// line that is listed twice. Everything else is refused with an *xrd.SyntaxError. Intensities of a list hold for one radiation; List.Phase converts
// them to another by the Lorentz-polarisation factor and says so in a caution.
package listfile

// Package scanfile turns scans in text and powder CIF into an xrd.Scan, and writes them as text.
//
// A text scan has two columns, angle in degrees 2θ and intensity, or three, with the standard uncertainty of the
// intensity. The columns are separated by spaces, tabs, commas or semicolons; numbers have a decimal point or, unless
// the comma separates the columns, a decimal comma. Angles may ascend or descend. Encodings are UTF-8,
// UTF-16 (either order) and, for what is not valid UTF-8, Windows-1252; line ends are LF, CRLF or CR.
//
// # Commas
//
// Columns are split at the first of these that a line has: semicolons, tabs, commas that touch a space, spaces,
// commas. A comma that is left inside a column is its decimal comma. "1,5" alone is therefore two columns, 1 and 5;
// a file with decimal commas needs another separator. A file that uses both signs inside its numbers is refused,
// because one of them might separate thousands.
//
// # Comments, headers and keys
//
// Lines that begin with # ! % ; * ' or // are comments everywhere. Lines before the first line of numbers are headers.
// A comment of the form "# key: value" tells how the scan was taken; the keys are sample, radiation, wavelength,
// monochromator, slit, geometry, radius_mm, specimen_length_mm, counting_time_s, section, intercept, mount and simulated (which says that nothing was measured). Other keys are not read; one that looks like a slip of these is noted in xrd.ScanInfo.Slips. A
// wavelength beside a radiation must belong to it; one alone means a monochromatic beam, two mean Kα1 and Kα2.
//
// # Powder CIF
//
// A file that begins with a data block is read as CIF: the first block with _pd_meas_counts_total,
// _pd_meas_intensity_total, _pd_proc_intensity_total or _pd_proc_intensity_net (dots or underscores), against
// _pd_meas_2theta_scan, _pd_proc_2theta_corrected or a range given by its ends and increment, with what the block says
// of radiation, slit, monochromator, distance and time. Standard uncertainties are read from _su columns or brackets.
//
// Everything that is refused gives an *xrd.SyntaxError that names the line and says what to do.
package scanfile

package resultfile

import "phasetally/xrd/analysis"

// CIF returns analysis.cif.
func CIF(r analysis.Result) []byte { return nil }

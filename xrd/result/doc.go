// Package result holds what an analysis gives, as values without behaviour: the Document (analysis.json, schema
// phasetally.analysis/1), the Curves that figures draw, and the Series (series.json, schema phasetally.series/1). The
// engine makes them; figures, reports and result folders read them and need nothing else.
package result

// Package plan says before a scan what it can show: how the beam meets the specimen, how deep it looks, which lines stand free,
// how little of a phase would be found, how wide the intervals would be, how many grains count, and what to do at the bench.
//
// Limits and intervals are not estimated by formulas of their own. The scan is calculated (package simulate), fitted with the
// model and the weights of an analysis, and judged by quantify, whose rule is that of the analysis: what the plan promises is
// what the analysis of such a scan states. Rates come from the request or from an earlier result of the instrument.
package plan

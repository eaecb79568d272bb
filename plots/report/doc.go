// Package report tells the result of an analysis to people: one sentence and one table for the terminal (Text), and a
// self-contained page (HTML) that answers first and then shows the pattern, the doubts with their remedies, the
// evidence, the peaks, the uncertainty budget, a methods paragraph and where everything came from.
//
// The page asks nothing of any network: styles, script, data and figures are inside it, and its content policy forbids
// the rest. Every text that came from a file is escaped.
package report

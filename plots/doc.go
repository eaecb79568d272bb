// Package plots draws the figures of an analysis: the pattern with every phase's share as an area of its own, the
// fractions with their 95 % intervals, the evidence of a phase line by line, and the uncertainty budget.
//
// A figure is first laid out as a list of shapes and texts in points (1/72 inch, origin at the top left) and then
// written as SVG, PDF or PNG. Fonts are embedded; identical input gives identical bytes. Colours and fill patterns
// belong to a phase by its place in the document, in every figure.
package plots

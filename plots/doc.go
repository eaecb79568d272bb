// Package plots draws the figures of an analysis: the pattern with every phase's share as an area of its own, the
// fractions with their 95 % intervals, the evidence of a phase line by line, and the uncertainty budget.
//
// What they show are plotters of gonum.org/v1/plot: Shares, Lanes, Residuals, Bars and Trends go on a plot.Plot of your
// own, with SqrtScale and Ticks for its axes. The figures put the same plotters on a page with names, keys and two
// axes of angle and spacing, which no plot of the library has.
//
// A figure is laid out in points (1/72 inch, origin at the top left), recorded as calls of a vg.Canvas, and drawn from
// there as SVG, PDF or PNG. Fonts are embedded; identical input gives identical bytes. A phase has the same colour and
// fill pattern in every figure.
package plots

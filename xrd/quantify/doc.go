// Package quantify turns the scales of a fitted pattern into weight and volume fractions with an uncertainty budget.
// Fractions are per cent of the crystalline part of the specimen (normalised RIR) unless a standard of known amount
// makes them absolute; intervals are 95 %, asymmetric where 0 and 100 are near.
//
// # Scatter of lines
//
// The area of line l of a phase departs from the fitted one by d_l, relative to it, by counting (variance u_l²) and by what no
// model has: texture beyond the fitted one, few grains, profile, structure (variance τ², alike for all lines). The scale is a mean of
// the lines with weights w_l = 1/(u_l² + m²), m being the misfit that the fit allows for, so that its variance is
//
//	Σ w_l² (u_l² + τ²) / (Σ w_l)²   where the fit says   1 / Σ w_l.
//
// Where lines stand out, their deviations tell τ². Where counting is as large as they scatter, the best estimate of τ² is 0, the
// edge of what it can be, which does not mean that it is known to be 0. What is known of it is its posterior density
//
//	p(τ | d) ∝ exp(−τ²/2s²) Π_l [(u_l² + τ²)^(−1/2) exp(−½ d_l²/(u_l² + τ²))]^(ν/n),
//
// half-normal beforehand with s = 3 %, the scatter of lines that needs no explanation, and with ν/n the share of the n deviations that
// scale, displacement parameter and textures have not taken up. The error of the scale is then a mixture of normal ones whose
// variances have the mean E and the variance V of τ². Student's distribution with ν′ degrees of freedom and scale σ has
// variance σ²ν′/(ν′ − 2) and excess kurtosis 6/(ν′ − 4), the mixture E and 3V/E²; they are equal for
//
//	ν′ = 4 + 2E²/V,   σ² = E (ν′ − 2)/ν′,
//
// which is exact where the posterior of τ² is a scaled inverse χ². σ² enters the budget where it is more than what lines show.
// Without a line that tells, σ is 2.3 % and ν′ is 5. Derived here; for half-normal densities of standard deviations see Gelman, Bayesian Analysis 1
// (2006) 515 (from memory).
package quantify

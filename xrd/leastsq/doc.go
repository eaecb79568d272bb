// Package leastsq fits models to data and says how sure the result is. It knows nothing of diffraction.
//
// [SeparableSolver] fits models that are linear in part of their parameters, y = Σ_j c_j φ_j(θ), by variable projection. The
// linear parameters need no starting values, may be held at or above zero, and take no part in the iteration.
//
// # What is minimised
//
// The objective is Σ ((y − model)/σ)² + Σ ((p − mean)/sigma)²: data with standard uncertainties σ, and priors, which act
// as one more datum each. Without σ every weight is 1, and the uncertainties are to be scaled by the scatter of the residuals. Around a point the objective is ‖r − Jδ‖² in weighted residuals r and derivatives J,
// and a step minimises ‖r − Jδ‖² + λ‖Dδ‖², where D are the lengths of the columns of J, so that units play no part. The
// damping λ is the one for which ‖Dδ‖ equals a trust radius, which grows and shrinks with the ratio of the reduction found
// to the one promised (Moré 1978).
//
// Bounds are kept by an active set: a step that meets a bound goes on along it. Equal bounds hold a parameter fixed.
//
// # Cores
//
// Fit cuts the points into parts that depend on their number alone, does the parts on as many cores as there are
// and adds their sums in order: the result is the same to the last bit on any number of cores. A model that is [Ranged] is
// evaluated part by part as well.
//
// # How a fit ends
//
// An error means that nothing could start. Everything else is a [Status], and the best point found is always returned.
// Convergence is judged on the undamped step only, so that a fit that creeps is not taken for one that has arrived.
//
// # Uncertainty
//
// The covariance is (JᵀWJ + priors)⁻¹ at the solution over the parameters that are neither fixed nor at a bound, without
// scaling by χ². Parameters that the data do not determine are listed; they have no meaningful variance. The covariance is
// that of the linearised model: where a parameter is known to no better than its own size, its interval is not symmetric.
//
// # Accuracy
//
// Of the 27 nonlinear problems of the NIST Statistical Reference Datasets 24 are linear in some parameter. Fit reaches at least
// six certified digits of parameters and standard deviations of all of them, from both starting points but for the far ones of
// MGH10 and MGH17, where it says that it is lost (the tests print the digits). It works on normal equations, which are several
// times faster than orthogonal factors and lose twice the digits: columns that agree to within about 1e-6 of their length
// count as equal.
//
// Sources: Marquardt, J. SIAM 11 (1963) 431–441; Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413–432; Kaufman, BIT 15
// (1975) 49–57; Moré, Lecture Notes in Mathematics 630 (1978) 105–116; Lawson & Hanson, Solving Least Squares Problems
// (1974) (all from memory).
package leastsq

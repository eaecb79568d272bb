// Package leastsq fits models to data: Levenberg–Marquardt for a general model (Fit), variable projection for one that
// is linear in part of its parameters (FitSeparable), and non-negative linear least squares (NonNegative). It knows
// nothing of diffraction.
package leastsq

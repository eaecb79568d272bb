// Package quantify turns the scales of a fitted pattern into weight and volume fractions with an uncertainty budget.
// Fractions are per cent of the crystalline part of the specimen (normalised RIR) unless a standard of known amount
// makes them absolute; intervals are 95 %, asymmetric where 0 and 100 are near.
package quantify

package analysis

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// ErrChemistry says that a measured chemistry cannot be meant as it stands; test with errors.Is.
var ErrChemistry = errors.New("no chemistry of a specimen")

// chemistrySlack is the share of the whole by which an analysis may miss it.
const chemistrySlack = 0.05

// CheckChemistry refuses, as ErrChemistry, measured wt% with an element twice, fractions of one in the place of wt%, and more than the whole. Less
// than the whole is what part of the elements was measured.
func CheckChemistry(list []ElementAmount) error {
	total := 0.0
	for i, a := range list {
		total += a.WeightPercent
		for _, b := range list[:i] {
			if strings.EqualFold(a.Symbol, b.Symbol) {
				return fmt.Errorf("%w: %s is given twice; give each element once", ErrChemistry, a.Symbol)
			}
		}
	}
	switch {
	case len(list) > 1 && math.Abs(total-1) < chemistrySlack:
		return fmt.Errorf("%w: it adds up to %.3g; give wt%%, not fractions, as in Cu=88,Sn=10±1", ErrChemistry, total)
	case !(total <= 100*(1+chemistrySlack)):
		return fmt.Errorf("%w: it adds up to %.4g wt%%; give wt%% of the whole", ErrChemistry, total)
	}
	return nil
}

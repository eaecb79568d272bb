package resultfile

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"strconv"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// fitColumns stand before one column a phase, <id>_intensity: its share of the calculated pattern above background.
var fitColumns = []string{"two_theta_deg", "observed_intensity", "sigma_intensity", "calculated_intensity",
	"background_intensity", "masked"}

var (
	errColumns = errors.New("columns do not belong to the phases of analysis.json")
	errNumber  = errors.New("not a number")
	errRows    = errors.New("fewer rows than analysis.json has points")
)

const rewrite = "run the analysis again to write the folder anew"

// FitCSV returns fit.csv: one row a point, intensities in the unit of the scan, masked 1 where the fit left a point
// out. Columns of unequal length are an error, since nothing sensible can be written.
func FitCSV(doc result.Document, c result.Curves) ([]byte, error) {
	if err := checkCurves(doc, c); err != nil {
		return nil, err
	}
	b := make([]byte, 0, 64*len(c.TwoTheta))
	b = append(b, fitHeader(doc)...)
	for i, t := range c.TwoTheta {
		b = appendNumber(b, t, angleDigits)
		for _, col := range [][]float64{c.Observed, c.Sigma, c.Calculated, c.Background} {
			b = appendNumber(append(b, ','), col[i], intensityDigits)
		}
		b = append(b, ',', '0'+masked(c, i))
		for _, col := range c.Phases {
			b = appendNumber(append(b, ','), col[i], intensityDigits)
		}
		b = append(b, '\n')
	}
	return b, nil
}

func fitHeader(doc result.Document) []byte {
	header := append([]string(nil), fitColumns...)
	for _, p := range doc.Phases {
		header = append(header, text(p.ID+"_intensity"))
	}
	return table(header, nil)
}

func appendNumber(b []byte, v float64, digits int) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return b
	}
	return strconv.AppendFloat(b, v, 'g', digits, 64)
}

func masked(c result.Curves, i int) byte {
	if c.Masked != nil && c.Masked[i] {
		return 1
	}
	return 0
}

func checkCurves(doc result.Document, c result.Curves) error {
	n := len(c.TwoTheta)
	if len(c.Phases) != len(doc.Phases) {
		return fmt.Errorf("fit.csv: %d phase curves for %d phases", len(c.Phases), len(doc.Phases))
	}
	for _, col := range append([][]float64{c.Observed, c.Sigma, c.Calculated, c.Background}, c.Phases...) {
		if len(col) != n {
			return fmt.Errorf("fit.csv: a column of %d points beside %d angles", len(col), n)
		}
	}
	if c.Masked != nil && len(c.Masked) != n {
		return fmt.Errorf("fit.csv: a mask of %d points beside %d angles", len(c.Masked), n)
	}
	return nil
}

// parseFit is the inverse of FitCSV, in any locale; phases is the number of phase columns that must be there. An empty cell is NaN.
func parseFit(in []byte, name string, phases int) (result.Curves, error) {
	r := csv.NewReader(bytes.NewReader(neutral(in)))
	r.ReuseRecord = true
	wrong := func(line int, err error) (result.Curves, error) {
		return result.Curves{}, &xrd.SyntaxError{File: name, Line: line, Err: err, Fix: rewrite}
	}
	head, err := r.Read()
	if err != nil || len(head) != len(fitColumns)+phases || head[0] != fitColumns[0] || head[5] != fitColumns[5] {
		return wrong(1, errColumns)
	}
	c := result.Curves{Phases: make([][]float64, phases)}
	anyMasked := false
	var flags []bool
	for line := 2; ; line++ {
		row, err := r.Read()
		if row == nil && err != nil {
			break
		}
		if err != nil {
			return wrong(line, err)
		}
		flags = append(flags, row[5] == "1")
		anyMasked = anyMasked || row[5] == "1"
		if err := appendRow(&c, row); err != nil {
			return wrong(line, err)
		}
	}
	if anyMasked {
		c.Masked = flags
	}
	return c, nil
}

func appendRow(c *result.Curves, row []string) error {
	columns := []*[]float64{&c.TwoTheta, &c.Observed, &c.Sigma, &c.Calculated, &c.Background}
	for p := range c.Phases {
		columns = append(columns, &c.Phases[p])
	}
	cells := append(append([]string(nil), row[:5]...), row[6:]...)
	for k, cell := range cells {
		v := math.NaN()
		if cell != "" {
			var err error
			if v, err = strconv.ParseFloat(cell, 64); err != nil {
				return fmt.Errorf("%w: %q", errNumber, cell)
			}
		}
		*columns[k] = append(*columns[k], v)
	}
	return nil
}

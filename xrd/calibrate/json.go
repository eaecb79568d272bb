package calibrate

import (
	"encoding/json"
	"io"
	"math"

	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// DocumentSchema names the version of what WriteJSON writes.
const DocumentSchema = "phasetally.calibration/1"

// A document is the calibration for other programs; what is not known is null.
type document struct {
	Schema       string         `json:"schema"`
	Usable       bool           `json:"usable"` // an instrument file may be written from it
	Converged    bool           `json:"converged"`
	Instrument   map[string]any `json:"instrument"` // the keys of the instrument file
	Zero         estimateJSON   `json:"zero_deg"`
	Displacement estimateJSON   `json:"displacement_mm"`
	RWP          *float64       `json:"r_wp"` // fraction
	RExp         *float64       `json:"r_exp"`
	Lines        []lineJSON     `json:"lines"`
	Cautions     []xrd.Caution  `json:"cautions"`
}

type estimateJSON struct {
	Value *float64 `json:"value"`
	U     *float64 `json:"u"`
	Lo    *float64 `json:"lo95"`
	Hi    *float64 `json:"hi95"`
}

// lineJSON is a line of the standard; angles and widths are degrees 2θ.
type lineJSON struct {
	H         int      `json:"h"`
	K         int      `json:"k"`
	L         int      `json:"l"`
	Certified *float64 `json:"certified"`
	Observed  *float64 `json:"observed"`
	U         *float64 `json:"observed_u"`
	Delta     *float64 `json:"delta"`
	Fitted    *float64 `json:"fitted_delta"`
	FWHM      *float64 `json:"fwhm"`
	FWHMU     *float64 `json:"fwhm_u"`
	Curve     *float64 `json:"curve_fwhm"`
}

// WriteJSON writes the calibration with fixed keys.
func (r Result) WriteJSON(w io.Writer) error {
	c := contentOf(r.Instrument, r.About())
	doc := document{Schema: DocumentSchema, Usable: r.Usable(), Converged: r.Status == leastsq.Converged, Instrument: map[string]any{},
		Zero: r.Zero.json(), Displacement: r.Displacement.json(), RWP: known(r.Agreement.RWP), RExp: known(r.Agreement.RExp),
		Lines: []lineJSON{}, Cautions: append([]xrd.Caution{}, r.Cautions...)}
	for _, f := range fields {
		if f.text != nil {
			doc.Instrument[f.key] = *f.text(&c)
		} else {
			doc.Instrument[f.key] = known(*f.number(&c))
		}
	}
	for _, l := range r.Lines {
		doc.Lines = append(doc.Lines, lineJSON{l.H, l.K, l.L, known(l.Certified), known(l.Observed), known(l.ObservedU), known(l.Delta), known(l.Fitted),
			known(l.FWHM), known(l.FWHMU), known(l.CurveFWHM)})
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(doc)
}

func (e Estimate) json() estimateJSON {
	return estimateJSON{known(e.Value), known(e.U), known(e.Lo), known(e.Hi)}
}

// known is null for what is not finite.
func known(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

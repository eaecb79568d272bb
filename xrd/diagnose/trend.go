package diagnose

import (
	"fmt"
	"math"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

const (
	trendSigmas  = 3.0 // PRACTICE: a slope beyond 3 standard uncertainties
	trendLeast   = 0.3 // and large enough to matter: 1 is an automatic slit
	trendLines   = 6   // lines below which no trend is told
	limitGain    = 6.0 // χ² by which an end of the trend must improve it (PRACTICE: Δ < 6 is about equal)
	layeredSlope = 0.1 // change of ln(intensity) per unit of 1/sin θ that matters
)

// trends tells a slit of another kind, a beam beyond the specimen and a layer from the intensities.
func trends(e Evidence) []xrd.Caution {
	fit := e.Explanation.Fit
	if fit.Setup.Instrument.Geometry == xrd.Transmission {
		return nil // layers and slits leave these trends in reflection alone
	}
	t := quantify.TrendsOf(fit)
	if t.Lines < trendLines {
		return nil
	}
	if e.Decided.Slit != nil {
		return e.Decided.Slit.caution()
	}
	if c := layered(e, t); c != nil {
		return c
	}
	if !(math.Abs(t.Slit.Sigmas()) > trendSigmas) || !(math.Abs(t.Slit.Value) > trendLeast) {
		return nil
	}
	evidence := map[string]any{"slope": t.Slit.Value, "u": t.Slit.U, "lines": t.Lines}
	if t.LimitGains > limitGain && t.Slit.Value > 0 && e.Facts.Specimen.Length == 0 {
		evidence["full_above_two_theta"] = t.Full
		return []xrd.Caution{{Code: "beam-overspill", Severity: xrd.SeverityCaution,
			Text:   fmt.Sprintf("Below about %.0f° lines of all phases grow weaker towards low angles, as when the beam is longer than the specimen. Nothing was corrected.", t.Full),
			Remedy: "State --slit and --specimen-length, use a narrower slit or a longer piece, or leave low angles out with --range.", Evidence: evidence}}
	}
	how := "rise with the angle, as with an automatic slit (slope 1) or a beam longer than the specimen"
	if t.Slit.Value < 0 {
		how = "fall with the angle, as when a fixed slit was taken for an automatic one (slope −1), or the surface is rough"
	}
	return []xrd.Caution{{Code: "slit-mode", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("Intensities of all phases %s: ln(observed/fitted) goes as %+.2f ± %.2f ln sin θ. Nothing was corrected.", how, t.Slit.Value, 2*t.Slit.U),
		Remedy: "State the divergence slit with --slit automatic:MM or --slit fixed:DEGREES (with --specimen-length).", Evidence: evidence}}
}

// layered reports phases that rise with the angle beside phases that fall: a layer over another.
func layered(e Evidence, t quantify.Trends) []xrd.Caution {
	var rising, falling []string
	for i, s := range t.Phases {
		if math.Abs(s.Sigmas()) > trendSigmas && math.Abs(s.Value) > layeredSlope {
			name := e.Explanation.Matches[i].Phase.Name
			if s.Value > 0 {
				rising = append(rising, name)
			} else {
				falling = append(falling, name)
			}
		}
	}
	if len(rising) == 0 || len(falling) == 0 {
		return nil
	}
	evidence := map[string]any{"beneath": strings.Join(rising, ", "), "above": strings.Join(falling, ", ")}
	text := fmt.Sprintf("Lines of %s grow stronger towards high angles and those of %s weaker: the latter seem to lie as a layer over the former",
		strings.Join(rising, ", "), strings.Join(falling, ", "))
	if thick, u := layerThickness(e, t); thick > 0 {
		text += fmt.Sprintf(", about %.2g ± %.1g µm thick", thick, 2*u)
		evidence["thickness_um"], evidence["thickness_u_um"] = thick, u
	}
	return []xrd.Caution{{Code: "layered", Severity: xrd.SeverityCaution, Text: text + ". Weight fractions of a mixture then have no meaning.",
		Remedy: "Section the layer, or scan before and after taking it off; give thickness instead of a fraction.", Evidence: evidence}}
}

// layerThickness returns the thickness of a layer, µm, with its standard uncertainty, from how it weakens the lines of
// what lies beneath: ln I falls by 2 μ t/sin θ. 0 unless one phase makes the layer and its absorption is known.
func layerThickness(e Evidence, t quantify.Trends) (thickness, u float64) {
	layer, mu := 0, 0.0
	var sum, weight float64
	for i, s := range t.Phases {
		if !(math.Abs(s.Sigmas()) > trendSigmas) || !(math.Abs(s.Value) > layeredSlope) {
			continue
		}
		if s.Value < 0 {
			layer++
			mu = e.Explanation.Matches[i].Phase.MuLinear()
			continue
		}
		sum += s.Value / (s.U * s.U)
		weight += 1 / (s.U * s.U)
	}
	if layer != 1 || !(mu > 0) || !(weight > 0) {
		return 0, 0
	}
	const micron = 1e4 // µm in a cm
	return sum / weight / (2 * mu) * micron, 1 / math.Sqrt(weight) / (2 * mu) * micron
}

package calibrate

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"phasetally/xrd/leastsq"
)

// WriteText writes the calibration as a table of lines and sentences for a terminal.
func (r Result) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s Kα, %.2f–%.2f° 2θ, cell held at %s\n\n", r.Job.Standard.Name(), r.Radiation.Name, r.Range[0], r.Range[1], r.Job.Standard.cellText())
	table := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(table, "h k l\tcertified 2θ\tobserved 2θ\tΔ2θ\tu\tfitted Δ2θ\tFWHM\tu\tcurve\t")
	for _, l := range r.Lines {
		fmt.Fprintf(table, "%d %d %d\t%.4f\t%.4f\t%+.4f\t%.4f\t%+.4f\t%.4f\t%.4f\t%.4f\t\n",
			l.H, l.K, l.L, l.Certified, l.Observed, l.Delta, l.ObservedU, l.Fitted, l.FWHM, l.FWHMU, l.CurveFWHM)
	}
	table.Flush() // a strings.Builder does not fail
	b.WriteByte('\n')
	for _, s := range r.Sentences() {
		fmt.Fprintln(&b, s)
	}
	for _, c := range r.Cautions {
		fmt.Fprintf(&b, "%s: %s %s\n", c.Severity, c.Text, c.Remedy)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (s Standard) cellText() string {
	if s.C > 0 && s.C != s.A {
		return fmt.Sprintf("a = %g, c = %g Å", s.A, s.C)
	}
	return fmt.Sprintf("a = %g Å", s.A)
}

// Sentences tell the calibration in words: zero and displacement with their intervals, the sum of both, the widths, and
// how the fit ended.
func (r Result) Sentences() []string {
	if len(r.Curve) == 0 || len(r.Lines) == 0 {
		return []string{"Nothing was calibrated."}
	}
	ins := r.Instrument
	out := []string{
		fmt.Sprintf("Zero %+.4f° (95 %%: %+.4f to %+.4f), displacement %+.4f mm (%+.4f to %+.4f) at R = %g mm; correlation of their shifts ρ = %.3f.",
			r.Zero.Value, r.Zero.Lo, r.Zero.Hi, r.Displacement.Value, r.Displacement.Lo, r.Displacement.Hi, ins.Radius, r.Correlation),
		fmt.Sprintf("Together they shift lines by %+.4f° at %.4g° and %+.4f° at %.4g°, known to ±%.4f° (95 %%) or better; observed lines scatter by %.4f° around that.",
			r.Curve[0].Shift, r.Range[0], r.Curve[len(r.Curve)-1].Shift, r.Range[1], normal95*r.MaxShiftU, r.ResidualSD),
		fmt.Sprintf("Widths: gauss_tan2 %.5f, gauss_tan %.5f, gauss_const %.5f degrees², lorentz_size %.5f, lorentz_strain %.5f°; FWHM %.4f° at %.1f°, %.4f° at %.1f° (to %.1f %%). Size and strain of the standard are taken as zero.",
			ins.GaussTan2, ins.GaussTan, ins.GaussConst, ins.LorentzSize, ins.LorentzStrain, r.Lines[0].CurveFWHM, r.Lines[0].Certified, r.Lines[len(r.Lines)-1].CurveFWHM, r.Lines[len(r.Lines)-1].Certified, 100*normal95*r.MaxFWHMRel),
	}
	tail := "Axial divergence: no tail that the scan calls for."
	if ins.Axial > 0 {
		tail = fmt.Sprintf("Axial divergence: tail of %.4f°/tan 2θ.", ins.Axial)
	}
	end := "The fit converged"
	if r.Status != leastsq.Converged {
		end = "The fit did not converge"
	}
	return append(out, tail, fmt.Sprintf("%s; R_wp %.1f %% (expected %.1f %%), %.0f %% of the standard's lines in range were found alone.", end,
		100*r.Agreement.RWP, 100*r.Agreement.RExp, 100*r.Seen))
}

// About returns what the instrument file of this calibration tells.
func (r Result) About() About {
	return About{Scan: r.Job.File, Standard: r.Job.Standard.Name(), Radiation: r.Radiation, Range: r.Range,
		Displacement: r.Displacement.Value, DisplacementU: r.Displacement.U, Correlation: r.Correlation}
}

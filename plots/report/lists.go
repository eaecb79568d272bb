package report

import (
	"fmt"
	"io"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Peaks writes the found peaks as aligned text, one row a peak.
func Peaks(w io.Writer, doc result.Document) error {
	rows := [][]string{{"2θ", "u", "d/Å", "height", "area", "u", "FWHM", "significance", "kind"}}
	for _, p := range doc.Peaks {
		rows = append(rows, []string{fmt.Sprintf("%.4f", p.TwoTheta), fmt.Sprintf("%.4f", p.TwoThetaU), fmt.Sprintf("%.5f", p.D),
			fmt.Sprintf("%.0f", p.Height), fmt.Sprintf("%.2f", p.Area), fmt.Sprintf("%.2f", p.AreaU), fmt.Sprintf("%.3f", p.FWHM), fmt.Sprintf("%.1f", p.Significance), plain(p.Kind)})
	}
	if _, err := fmt.Fprintf(w, "%d peaks, %s Kα, %.2f° to %.2f° 2θ; areas in intensity × degrees\n\n%s", len(doc.Peaks),
		plain(doc.Scan.Radiation), doc.Scan.TwoThetaMin, doc.Scan.TwoThetaMax, align(rows)); err != nil {
		return err
	}
	return cautions(w, doc)
}

// Lines writes the reference lines of a phase as aligned text: what it is, then one row a line of at least the given
// intensity (strongest = 100).
func Lines(w io.Writer, p refdata.Phase, least float64) error {
	unknown := func(format string, v float64) string {
		if !(v > 0) {
			return "unknown"
		}
		return fmt.Sprintf(format, v)
	}
	if _, err := fmt.Fprintf(w, "%s  %s  %s\n", plain(p.Name), plain(p.Formula), plain(p.SpaceGroup)); err != nil {
		return err
	}
	if c := p.Cell; c != nil {
		fmt.Fprintf(w, "a %.5f  b %.5f  c %.5f Å  α %.3f  β %.3f  γ %.3f°  V %.4f Å³\n", c.A, c.B, c.C, c.Alpha, c.Beta, c.Gamma, c.Volume())
	}
	fmt.Fprintf(w, "density %s  μ %s  I/Ic %s (%s, by %s, %s)\n", unknown("%.4f g/cm³", p.Density), unknown("%.1f /cm", p.MuLinear()),
		unknown("%.3f", p.RIR.Value), orUnknown(p.RIR.Origin), orUnknown(p.RIR.Basis), orUnknown(p.RIR.Radiation))
	for _, c := range p.Cautions {
		if c.Severity != xrd.SeverityNote {
			fmt.Fprintf(w, "! %s [%s]\n", plain(c.Text), c.Code)
		}
	}
	fmt.Fprintln(w)
	rows := [][]string{{"h k l", "d/Å", "2θ", "m", "I"}}
	for _, l := range p.Lines {
		if l.Intensity < least {
			continue
		}
		hkl, m := "", 0
		for i, f := range l.Families {
			if i > 0 {
				hkl += " + "
			}
			hkl += fmt.Sprintf("%d %d %d", f.H, f.K, f.L)
			m += f.Multiplicity
		}
		rows = append(rows, []string{hkl, fmt.Sprintf("%.5f", l.D), fmt.Sprintf("%.4f", l.TwoTheta), fmt.Sprint(m), fmt.Sprintf("%.2f", l.Intensity)})
	}
	_, err := io.WriteString(w, align(rows))
	return err
}

func orUnknown(s string) string {
	if s == "" {
		return "unknown"
	}
	return plain(s)
}

package listfile

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
)

// Write writes phases as a reference list that Read gives back to the digits printed: spacings to 1e-6 Å, angles to
// 1e-4° (of the printed spacing), intensities to 1e-4 of 100, other numbers to eight digits. What belongs to a phase
// stands in its first row. Where the strongest line is not 100, because it lies outside the phase's range, intensities
// and RIR are referred to the strongest line written. The Laue group of a phase is not kept.
func Write(w io.Writer, phases []refdata.Phase) error {
	out := csv.NewWriter(w)
	if err := out.Write(known); err != nil {
		return err
	}
	for _, p := range phases {
		p = referred(p)
		about := aboutPhase(p)
		for _, line := range p.Lines {
			row := aboutLine(p, line)
			maps.Copy(row, about)
			about = nil
			cells := make([]string, len(known))
			for i, column := range known {
				cells[i] = row[column]
			}
			if err := out.Write(cells); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

// referred returns the phase with its intensities and RIR referred to the strongest of its lines.
func referred(p refdata.Phase) refdata.Phase {
	top := strongest(p.Lines)
	if top == 100 || !(top > 0) {
		return p
	}
	p.Lines = slices.Clone(p.Lines)
	for i := range p.Lines {
		p.Lines[i].Intensity = p.Lines[i].Intensity / top * 100
	}
	p.RIR.Value *= top / 100
	return p
}

// aboutPhase gives the columns of the first row, by name.
func aboutPhase(p refdata.Phase) map[string]string {
	row := map[string]string{"formula": p.Formula, "radiation": cmp.Or(p.Beam.Radiation.Name, number(p.Beam.Radiation.KAlpha1)), "space_group": p.SpaceGroup,
		"density": number(p.Density), "density_origin": p.DensityOrigin, "z": number(p.Z), "mass_absorption": number(p.MassAbsorption),
		"preparation": p.Preparation, "confidence": p.Confidence, "source": p.Source}
	if p.Beam.Monochromator.Kind != xrd.NoMonochromator {
		row["monochromator"] = p.Beam.Monochromator.String()
	}
	row["cautions"] = cautionText(p.Cautions)
	if p.RIR.Value > 0 && p.RIR.Value <= refdata.MaxRIR {
		row["rir"], row["rir_u"] = number(p.RIR.Value), strconv.FormatFloat(p.RIR.RelU, 'g', 8, 64)
		row["rir_origin"], row["rir_basis"], row["rir_radiation"] = p.RIR.Origin, p.RIR.Basis, p.RIR.Radiation
	}
	if c := p.Cell; c != nil {
		row["a"], row["b"], row["c"] = number(c.A), number(c.B), number(c.C)
		row["alpha"], row["beta"], row["gamma"] = number(c.Alpha), number(c.Beta), number(c.Gamma)
	}
	if p.SolidSolution {
		row["soluble"] = "yes"
	}
	return row
}

// aboutLine gives the columns of every row, by name.
func aboutLine(p refdata.Phase, line refdata.Line) map[string]string {
	d := math.Round(line.D*1e6) / 1e6
	row := map[string]string{"phase": p.Name, "d": fixed(d, 6), "intensity": fixed(line.Intensity, 4)}
	if Slug(p.Name) != p.ID {
		row["id"] = p.ID
	}
	if angle, ok := xrd.TwoTheta(d, p.Beam.Radiation.KAlpha1); ok {
		row["two_theta"] = fixed(angle, 4)
	}
	var more []string
	for i, f := range line.Families {
		if i > 0 {
			more = append(more, strings.TrimSpace(fmt.Sprintf("%d %d %d %d %s", f.H, f.K, f.L, f.Multiplicity, number(f.F2))))
			continue
		}
		row["h"], row["k"], row["l"] = strconv.Itoa(f.H), strconv.Itoa(f.K), strconv.Itoa(f.L)
		row["f2"] = number(f.F2)
		if f.Multiplicity > 0 {
			row["multiplicity"] = strconv.Itoa(f.Multiplicity)
		}
	}
	row["families"] = strings.Join(more, "; ")
	return row
}

// number prints eight digits, nothing for 0, which means unknown.
func number(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 8, 64)
}

func fixed(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) }

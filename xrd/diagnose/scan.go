package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// ofPeaks passes on what the search for peaks has raised.
func ofPeaks(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for _, c := range e.Found.Cautions {
		if c.Code == "amorphous-halo" && e.fitted() {
			continue // the fitted background judges better than the one laid under the peaks
		}
		out = append(out, c)
	}
	return out
}

func radiationAssumed(e Evidence) []xrd.Caution {
	if !e.Facts.RadiationAssumed {
		return nil
	}
	return []xrd.Caution{{Code: "radiation-assumed", Severity: xrd.SeverityCaution,
		Text:   "The scan does not say its radiation; " + e.Facts.Radiation.Name + " Kα was assumed.",
		Remedy: "State it with --radiation, or as a line '# radiation: Cu' in the scan.", Evidence: map[string]any{"radiation": e.Facts.Radiation.Name}}}
}

// mostInBlank is the share of the peak area from which a blank is taken for the scan of a specimen: more would be the holder's than
// the specimen's own.
const mostInBlank = 0.5

// blankOfSpecimen says that the blank shows the lines of the specimen.
func blankOfSpecimen(e Evidence) []xrd.Caution {
	if !(e.Facts.BlankShare > mostInBlank) {
		return nil
	}
	return []xrd.Caution{{Code: "blank-doubtful", Severity: xrd.SeverityStop,
		Text:   fmt.Sprintf("Of the peak area of the scan, %.0f %% stand in the blank, too: it seems to be the scan of a specimen, and what it shows was taken away.", 100*e.Facts.BlankShare),
		Remedy: "Give a scan of the empty mount and holder, or leave --blank out; lines of a holder that outdo those of the specimen call for a longer piece or a narrower slit.", Evidence: map[string]any{"share": e.Facts.BlankShare}}}
}

// otherTube says that the instrument was calibrated with another tube.
func otherTube(e Evidence) []xrd.Caution {
	r, err := xrd.ParseRadiation(e.Facts.Instrument.Tube)
	if err != nil || r.SameTube(e.Facts.Radiation) {
		return nil
	}
	return []xrd.Caution{{Code: "instrument-differs", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("The instrument file was made with %s Kα and the scan is read with %s Kα: zero and widths may be those of another alignment.", r.Name, e.Facts.Radiation.Name),
		Remedy: "Calibrate with the tube of the scan, or leave --instrument out; check --radiation.", Evidence: map[string]any{"instrument": r.Name, "used": e.Facts.Radiation.Name}}}
}

// What a line may be narrower than the instrument file says: receiving slits and alignment differ a little, and a fitted width scatters.
const (
	narrowerShare = 0.75 // of the width of the instrument
	narrowerPeaks = 4    // that tell it, clear ones
	narrowerClear = 30.0 // their significance
)

// narrowLines says that the lines of the scan are narrower than the instrument makes them, which no specimen does.
func narrowLines(e Evidence) []xrd.Caution {
	if e.Facts.Instrument.Tube == "" { // no instrument file
		return nil
	}
	var shares []float64
	for _, p := range e.Found.Peaks {
		if w := e.Facts.Instrument.FWHM(p.TwoTheta); p.Kind == peaks.KAlpha && p.Significance >= narrowerClear && w > 0 {
			shares = append(shares, p.FWHM/w)
		}
	}
	if len(shares) < narrowerPeaks {
		return nil
	}
	slices.Sort(shares)
	median := shares[len(shares)/2]
	if !(median < narrowerShare) {
		return nil
	}
	return []xrd.Caution{{Code: "instrument-differs", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("Lines of the scan have %.0f %% of the width that the instrument file says, and no specimen makes them narrower: the file is of another instrument or other slits.", 100*median),
		Remedy: "Calibrate with the slits of the scan, or leave --instrument out.", Evidence: map[string]any{"share": median, "peaks": len(shares)}}}
}

// keySlips says which keys of the scan file seem to be misspelt.
func keySlips(e Evidence) []xrd.Caution {
	var said, wanted []string
	for _, s := range e.Scan.About.Slips {
		said = append(said, fmt.Sprintf("“%s” (line %d)", s.Key, s.Line))
		wanted = append(wanted, s.Like)
	}
	if len(said) == 0 {
		return nil
	}
	return []xrd.Caution{{Code: "header-key", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("What the scan says of %s was not used: there is no such key. It looks like %s.", strings.Join(said, ", "), strings.Join(wanted, ", ")),
		Remedy: "Correct the key in the scan file. A remark of another kind may stay as it is.", Evidence: map[string]any{"keys": len(said)}}}
}

// radiationContradicted says that the scan names another tube than the one that was asked for.
func radiationContradicted(e Evidence) []xrd.Caution {
	s := e.Scan.About.Radiation
	if s == nil || s.SameTube(e.Facts.Radiation) {
		return nil
	}
	return []xrd.Caution{{Code: "radiation-doubtful", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("The scan says %s Kα, it was read with %s Kα as asked for.", s.Name, e.Facts.Radiation.Name),
		Remedy: "Check the tube; leave --radiation out if the scan is right.", Evidence: map[string]any{"scan": s.Name, "used": e.Facts.Radiation.Name}}}
}

// statedOverspill says from which angle on the stated slit is wider than the stated specimen.
func statedOverspill(e Evidence) []xrd.Caution {
	ins, l := e.Facts.Instrument, e.Facts.Specimen.Length
	if ins.Geometry == xrd.Transmission || ins.Slit.Mode != xrd.SlitFixed || !(ins.Slit.Value > 0) || !(l > 0) {
		return nil
	}
	s := ins.Radius * xrd.Radians(ins.Slit.Value) / l
	if !(s < 1) {
		return nil
	}
	full := 2 * xrd.Degrees(math.Asin(s))
	if first, _ := e.Scan.Range(); len(e.Found.Peaks) == 0 || !(full > math.Max(first, e.Found.Peaks[0].TwoTheta)) {
		return nil
	}
	return []xrd.Caution{{Code: "beam-overspill", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("The beam is longer than the specimen below %.1f°: lines there are weaker, and the mount diffracts. Intensities were corrected for the loss.", full),
		Remedy: "Use a narrower slit or a longer piece; scan a blank of the mount.", Evidence: map[string]any{"full_above_two_theta": full}}}
}

// images says which found peaks are other wavelengths of the tube.
func images(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for _, k := range []struct {
		kind              peaks.Kind
		wavelength        float64
		code, line, cause string
	}{
		{peaks.KBeta, e.Facts.Radiation.KBeta, "k-beta", "Kβ", "A thicker filter or a monochromator removes it."},
		{peaks.WLine, xrd.WLAlpha, "tungsten-line", "W Lα", "The tube's anode is coated with tungsten; it will get worse until the tube is changed."},
	} {
		var at []string
		for _, p := range e.Found.Peaks {
			if p.Kind == k.kind && p.Of >= 0 && p.Of < len(e.Found.Peaks) && !e.ownLine(p) && !e.onFoot(p.TwoTheta) && e.imagesOfStronger(p, k.wavelength) {
				at = append(at, fmt.Sprintf("%.2f° (of the line at %.2f°)", p.TwoTheta, e.Found.Peaks[p.Of].TwoTheta))
			}
		}
		if len(at) > 0 {
			out = append(out, xrd.Caution{Code: k.code, Severity: xrd.SeverityNote, Text: k.line + " of strong lines is seen at " + strings.Join(at, ", ") + "; it is no phase.",
				Remedy: k.cause, Evidence: map[string]any{"lines": len(at)}})
		}
	}
	return out
}

// A peak is a phase's own line, though it lies where another wavelength of a strong line does, when lines within one width of it make up
// half of it; lines of a phase that scatter about its reference may be stronger by two standard deviations.
const imageOwn, imageWithin = 0.5, 1.0

// ownLine reports whether the phases have lines that make up a peak.
func (e Evidence) ownLine(p peaks.Peak) bool {
	if !e.fitted() {
		return false
	}
	var area float64
	for _, m := range e.Explanation.Matches {
		scatter, _ := pattern.IntensityScatter(m.Lines)
		for _, l := range m.Lines {
			if l.Covered && math.Abs(l.TwoTheta-p.TwoTheta) < imageWithin*l.FWHM {
				area += l.Fitted * (1 + 2*scatter)
			}
		}
	}
	return area > imageOwn*p.Area
}

const (
	imageStronger = 1.5 // times the line of an image from which another line is asked for its own
	imageWidth    = 2.0 // widths of its line that an image has at most, as in package peaks
	imageLeast    = 0.5 // of the area that the image of a stronger line must have
	imageHidden   = 3.0 // widths of a stronger peak within which an image is not seen
)

// imagesOfStronger reports whether lines that are stronger than that of an image have peaks where their images in the same wavelength
// lie: what the tube emits, it emits for all.
func (e Evidence) imagesOfStronger(image peaks.Peak, wavelength float64) bool {
	lo, hi := e.Scan.Range()
	for _, q := range e.Found.Peaks {
		at, ok := xrd.ImageTwoTheta(q.TwoTheta, e.Facts.Radiation.KAlpha1, wavelength)
		if q.Kind != peaks.KAlpha || !(q.Area > imageStronger*e.Found.Peaks[image.Of].Area) || !ok || at < lo || at > hi || e.Facts.isMasked(at) {
			continue
		}
		expected := image.Area / e.Found.Peaks[image.Of].Area * q.Area
		if !slices.ContainsFunc(e.Found.Peaks, func(p peaks.Peak) bool { // it, or a stronger one that hides it
			return p.FWHM < imageWidth*q.FWHM && math.Abs(p.TwoTheta-at) < p.FWHM && p.Area+2*p.AreaU > imageLeast*expected || p.Area > expected && math.Abs(p.TwoTheta-at) < imageHidden*p.FWHM
		}) {
			return false
		}
	}
	return true
}

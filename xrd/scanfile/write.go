package scanfile

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"

	"phasetally/xrd"
)

// Write writes a scan as text that Read gives back unchanged: the keys that are stated, then two or three columns.
// Line breaks inside a key's value become spaces; a radiation that no key can express keeps its wavelengths only.
func Write(w io.Writer, scan xrd.Scan) error {
	out := bufio.NewWriter(w)
	for _, k := range statedKeys(scan.About) {
		fmt.Fprintf(out, "# %s: %s\n", k[0], k[1])
	}
	var line []byte
	for i, t := range scan.TwoTheta {
		line = strconv.AppendFloat(line[:0], t, 'g', -1, 64)
		line = strconv.AppendFloat(append(line, ' '), scan.Intensity[i], 'g', -1, 64)
		if scan.Sigma != nil {
			line = strconv.AppendFloat(append(line, ' '), scan.Sigma[i], 'g', -1, 64)
		}
		out.Write(append(line, '\n')) // a bufio.Writer keeps its first error for Flush
	}
	return out.Flush()
}

// oneLine keeps a value on its line.
var oneLine = strings.NewReplacer("\n", " ", "\r", " ")

// statedKeys lists key and value of all that is known.
func statedKeys(a xrd.ScanInfo) [][2]string {
	all := [][2]string{
		{"SIMULATED", oneLine.Replace(a.Simulated)},
		{"sample", oneLine.Replace(a.Sample)},
		{"radiation", ""}, {"wavelength", ""},
		{"monochromator", a.Monochromator}, {"slit", ""},
		{"radius_mm", stated(a.Radius)}, {"specimen_length_mm", stated(a.SpecimenLength)}, {"counting_time_s", stated(a.CountingTime)},
		{"section", a.Section}, {"intercept", xrd.FormatIntercepts(a.Intercepts)}, {"intercept_cv2", a.InterceptCV2.String()}, {"mount", oneLine.Replace(a.Mount)},
	}
	if a.Radiation != nil {
		all[2][1], all[3][1] = radiationKeys(*a.Radiation)
	}
	if a.Slit != nil {
		all[5][1] = a.Slit.String()
	}
	if a.Geometry != nil {
		all = append(all, [2]string{"geometry", a.Geometry.String()})
	}
	var some [][2]string
	for _, k := range all {
		if k[1] != "" {
			some = append(some, k)
		}
	}
	return some
}

// radiationKeys splits a radiation into what Read joins again.
func radiationKeys(r xrd.Radiation) (name, wavelength string) {
	parsed, err := xrd.ParseRadiation(r.Name)
	if err == nil && parsed == r {
		return r.Name, ""
	}
	wavelength = stated(r.KAlpha1)
	if r.KAlpha2 > 0 && r.Ratio > 0 {
		wavelength += "," + stated(r.KAlpha2)
		if err == nil {
			name = r.Name
		}
	}
	return name, wavelength
}

// stated writes a number, or nothing for 0.
func stated(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

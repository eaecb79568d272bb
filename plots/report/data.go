package report

import (
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"sort"
	"strconv"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// maxPoints is how many points the page carries; longer scans are thinned so that no peak is lost.
const maxPoints = 16000

// pageData is what the script of the page reads. Curves are rounded to what a screen can show: four significant digits.
type pageData struct {
	Wavelength float64     `json:"wavelength"`
	Tube       string      `json:"tube"`
	Unit       string      `json:"unit"`
	TwoTheta   column      `json:"x"`
	Observed   column      `json:"obs"`
	Background column      `json:"bg"`
	Residual   column      `json:"res"` // standard uncertainties; null where masked or unknown
	Phases     []phaseData `json:"phases"`
	Unexpected []rounded   `json:"unexplained"`
	Whole      *[2]float64 `json:"whole,omitempty"`   // range of the scan, where only a part of it is here
	Points     int         `json:"points,omitempty"`  // of the scan, where not all are here
	Preview    []run       `json:"preview,omitempty"` // what a phase would add that is not part of the fit
}

// A View is the part of the curves that is wanted; its zero value is all of them, thinned to what a report carries.
type View struct {
	Lo, Hi  float64   // degrees 2θ; 0, 0: all
	Most    int       // points at most, about; 0: as many as a report carries
	Preview []float64 // what a further phase would add, parallel to the curves; nil for none
}

type phaseData struct {
	Name   string      `json:"name"`
	Colour string      `json:"colour"`
	Hatch  int         `json:"hatch"`
	Dark   string      `json:"dark"` // the colour on a dark ground
	Runs   []run       `json:"runs"` // the share above background, where there is any
	Lines  []lineDatum `json:"lines"`
}

type run struct {
	From   int    `json:"i"`
	Values column `json:"v"`
}

type lineDatum struct {
	TwoTheta rounded `json:"t"`
	D        rounded `json:"d"`
	HKL      string  `json:"hkl"`
	Expected rounded `json:"e"`
	Missing  bool    `json:"m,omitempty"`
}

// rounded is a number printed with so many significant digits as a screen needs; NaN is null.
type rounded struct {
	value  float64
	digits int
}

// MarshalJSON prints the number as briefly as JSON allows.
func (r rounded) MarshalJSON() ([]byte, error) { return appendRounded(nil, r.value, r.digits), nil }

// column is a list of rounded numbers, written in one go because it has thousands.
type column struct {
	values []float64
	digits int
}

// MarshalJSON prints the list.
func (c column) MarshalJSON() ([]byte, error) {
	b := append(make([]byte, 0, 8*len(c.values)+2), '[')
	for i, v := range c.values {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendRounded(b, v, c.digits)
	}
	return append(b, ']'), nil
}

func appendRounded(b []byte, v float64, digits int) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return append(b, "null"...)
	}
	return strconv.AppendFloat(b, v, 'g', digits, 64)
}

func roundAll(values []float64, pick []int, digits int) column {
	out := column{make([]float64, len(pick)), digits}
	for k, i := range pick {
		out.values[k] = values[i]
	}
	return out
}

// Curves returns, as JSON, the curves that FigureScript draws; the encoder escapes < > & so that no name can end a script.
func Curves(r result.Analysis, v View) ([]byte, error) {
	c := r.Curves
	from, to := 0, len(c.TwoTheta)
	if v.Hi > v.Lo {
		from, to = sort.SearchFloat64s(c.TwoTheta, v.Lo), sort.SearchFloat64s(c.TwoTheta, math.Nextafter(v.Hi, math.Inf(1)))
		from, to = max(0, from-1), min(to+1, len(c.TwoTheta)) // lines go on to the edge
	}
	pick := thin(c.Observed, from, to, cmp.Or(max(0, v.Most), maxPoints))
	res := make([]float64, len(c.TwoTheta))
	for i := range res {
		res[i] = math.Round(10*(c.Observed[i]-c.Calculated[i])/c.Sigma[i]) / 10
		if !(c.Sigma[i] > 0) || c.Masked != nil && c.Masked[i] {
			res[i] = math.NaN()
		}
	}
	d := pageData{Wavelength: r.Document.Scan.Wavelength, Tube: r.Document.Scan.Radiation, Unit: "intensity",
		TwoTheta: roundAll(c.TwoTheta, pick, 7), Observed: roundAll(c.Observed, pick, 4), Background: roundAll(c.Background, pick, 4),
		Residual: roundAll(res, pick, 4), Phases: []phaseData{}, Unexpected: []rounded{}}
	if r.Document.Scan.NoiseModel == "poisson" {
		d.Unit = "counts"
	}
	slots := plots.Slots(r.Document)
	for i, p := range r.Document.Phases {
		d.Phases = append(d.Phases, phaseDataOf(p, c.Phases[i], c.Sigma, pick, slots[i]))
	}
	if len(pick) < len(c.TwoTheta) && len(pick) > 0 {
		d.Whole, d.Points = &[2]float64{c.TwoTheta[0], c.TwoTheta[len(c.TwoTheta)-1]}, len(c.TwoTheta)
	}
	if v.Preview != nil {
		d.Preview = runsOf(v.Preview, c.Sigma, pick)
	}
	for _, u := range r.Document.UnexplainedPeaks {
		d.Unexpected = append(d.Unexpected, rounded{u.TwoTheta, 7})
	}
	return json.Marshal(d)
}

func phaseDataOf(p result.Phase, share, sigma []float64, pick []int, slot int) phaseData {
	d := phaseData{Name: plain(p.Name), Colour: plots.PhaseColour(slot), Dark: plots.Style{Dark: true}.PhaseEdge(slot), Hatch: min(slot, plots.Colours),
		Runs: runsOf(share, sigma, pick), Lines: []lineDatum{}}
	for _, l := range p.Lines {
		d.Lines = append(d.Lines, lineDatum{rounded{l.TwoTheta, 6}, rounded{l.D, 5}, plots.HKL(l), rounded{l.Expected, 4}, l.Verdict == result.LineMissing})
	}
	return d
}

// runsOf leaves out where a curve cannot be seen.
func runsOf(share, sigma []float64, pick []int) []run {
	runs := []run{}
	open := false
	for k, i := range pick {
		// a twentieth of the noise cannot be seen
		if !(share[i] > 0.05*sigma[i]) {
			open = false
			continue
		}
		if !open {
			runs = append(runs, run{k, column{digits: 4}})
			open = true
		}
		last := &runs[len(runs)-1]
		last.Values.values = append(last.Values.values, share[i])
	}
	return runs
}

// thin returns the indices of the points to show: all of them, or the least and the greatest of each bin.
func thin(y []float64, start, end, points int) []int {
	var out []int
	if end-start <= points {
		for i := start; i < end; i++ {
			out = append(out, i)
		}
		return out
	}
	bin := (2*(end-start) + points - 1) / points
	for from := start; from < end; from += bin {
		least, most := from, from
		for i := from; i < min(from+bin, end); i++ {
			if y[i] < y[least] {
				least = i
			}
			if y[i] > y[most] {
				most = i
			}
		}
		out = append(out, min(least, most), max(least, most))
	}
	out[0], out[len(out)-1] = start, end-1 // lines go on to the edge
	return slices.Compact(out)
}

package report

import (
	"fmt"
	"html/template"
	"io"
	"slices"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// The page and the text of a long series show a sample and what stands out; further pages have the rest.
const (
	allShown  = 300 // scans up to which every one has its row
	spread    = 100 // scans of the sample, even over a longer series
	striking  = 200 // scans that stand out, at most
	onePage   = 500 // scans of a further page
	trendOnly = 40  // scans of a long series that the text shows
)

// standsOut tells whether somebody should look at a scan of a series first.
func standsOut(e *result.SeriesEntry) bool {
	return e.Error != "" || e.Stop || e.Verdict != "" && e.Verdict != result.Complete || slices.Contains(e.Cautions, "series-outlier")
}

// shownScans returns the numbers of the scans that have a row where not all have, and how many of all stand out.
func shownScans(s result.Series, sample, most int) (shown []int, outstanding int) {
	var striking []int
	for i := range s.Scans {
		if standsOut(&s.Scans[i]) {
			striking = append(striking, i)
		}
	}
	shown = append(evenly(len(s.Scans), sample), pick(striking, most)...)
	slices.Sort(shown)
	return slices.Compact(shown), len(striking)
}

// evenly picks k of n numbers from 0 with both ends.
func evenly(n, k int) []int {
	out := make([]int, 0, k)
	for i := range min(n, k) {
		if n <= k {
			out = append(out, i)
			continue
		}
		out = append(out, i*(n-1)/(k-1))
	}
	return out
}

func pick(list []int, k int) []int {
	out := evenly(len(list), k)
	for i, n := range out {
		out[i] = list[n]
	}
	return out
}

// what says in words which scans are shown.
func what(s result.Series, shown, outstanding, most int) string {
	if outstanding == 0 {
		return fmt.Sprintf("%d of %d scans are shown, spread over the series; none stands out.", shown, len(s.Scans))
	}
	which := fmt.Sprintf("all %d", outstanding)
	if outstanding > most {
		which = fmt.Sprintf("%d of the %d", most, outstanding)
	}
	return fmt.Sprintf("%d of %d scans are shown: a sample spread over the series and %s that stand out (no answer, not explained as a whole, a stop, or a far worse fit).", shown, len(s.Scans), which)
}

// A ScanPage is a further page of a long series.
type ScanPage struct {
	Name        string // of the file, plain
	First, Last int    // numbers of its scans, from 1
}

// ScanPages are the further pages of a series: none when its page shows every scan.
func ScanPages(s result.Series) []ScanPage {
	if len(s.Scans) <= allShown {
		return nil
	}
	var out []ScanPage
	for first := 1; first <= len(s.Scans); first += onePage {
		last := min(first+onePage-1, len(s.Scans))
		out = append(out, ScanPage{fmt.Sprintf("scans-%06d-%06d.html", first, last), first, last})
	}
	return out
}

// WriteScanPage writes a further page: a row a scan.
func WriteScanPage(w io.Writer, s result.Series, p ScanPage) error {
	v := seriesView{Style: template.CSS(pageStyle + seriesStyle), Phases: phaseNames(s), Conditions: s.Conditions, At: slices.Index(s.Conditions, s.Abscissa), Colours: seriesColours(s), Page: p}
	pages := ScanPages(s)
	for i, other := range pages {
		if other.First == p.First { // the way on and back
			v.Pages = pages[max(0, i-1):min(len(pages), i+2)]
		}
	}
	for i := p.First - 1; i < p.Last; i++ {
		v.Scans = append(v.Scans, scanView(s.Scans[i], i, len(s.Phases)))
	}
	return seriesPage.ExecuteTemplate(w, "further", v)
}

func seriesColours(s result.Series) (colours []string) {
	var ids []string
	for _, p := range s.Phases {
		ids = append(ids, p.ID)
	}
	for _, slot := range plots.Colouring(ids) {
		colours = append(colours, plots.PhaseColour(slot))
	}
	return colours
}

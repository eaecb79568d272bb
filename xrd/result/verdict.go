package result

// PartOnly reports whether fractions are of what was recognised, since a scan is explained only in part.
func (d Document) PartOnly() bool { return d.Explanation != nil && d.Explanation.Verdict == Partial }

// A Verdict says how far an explanation as a whole accounts for what a scan shows, whatever is thought of its phases.
type Verdict string

// The verdicts. Complete: no peak is left that the phases do not account for. Partial: most of the intensity in peaks is
// accounted for, but peaks are left. None: most is not, so that no phase may be called established.
const (
	Complete Verdict = "complete"
	Partial  Verdict = "partial"
	None     Verdict = "none"
)

// A LineVerdict says what one line tells of its phase. It is made once, from the fit, and everything that speaks of lines
// (reasons, tables, figures) goes by it.
type LineVerdict string

// The verdicts on a line. The empty one is of documents that are older than verdicts, and of lines that were only planned.
const (
	LineSeen       LineVerdict = "seen"       // stands clear of other phases and is there
	LineMissing    LineVerdict = "missing"    // stands clear, should be seen, and is not there: speaks against the phase
	LineWeak       LineVerdict = "weak"       // stands clear, and is too weak to tell
	LineOverlapped LineVerdict = "overlapped" // under lines of other phases
	LineDiffuse    LineVerdict = "diffuse"    // so wide that what is seen may be background: counts for nothing
	LineOutside    LineVerdict = "outside"    // not covered by the scan
)

// Judged reports whether a phase that is not found is known to be absent, within its limit: not where peaks are left that nothing
// explains, since they may be its own.
func (d Document) Judged() bool {
	return d.Explanation == nil || d.Explanation.Verdict != None || len(d.Peaks) == 0
}

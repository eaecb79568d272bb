package result

// A Progress is where an analysis stands. What it names are candidates until the analysis has ended.
type Progress struct {
	Doing string   // what is being tried, in words
	Peaks int      // that the scan shows; 0 while they are looked for, and for a scan without any
	Found []string // names of the phases that explain most of them so far, in the order in which they came in
	Share float64  // of the area of all peaks that these account for, 0 to 1
}

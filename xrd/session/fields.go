package session

import "slices"

// A FieldKind says how a setting is given.
type FieldKind string

// The kinds of fields.
const (
	Text   FieldKind = "text"   // one value
	Number FieldKind = "number" // one number
	OneOf  FieldKind = "oneof"  // one of Options
	Switch FieldKind = "switch" // given or not
	List   FieldKind = "list"   // several values that a flag takes with commas between
	Many   FieldKind = "many"   // several values, each with the flag before it
	File   FieldKind = "file"   // one file
	Files  FieldKind = "files"  // several files
	Scan   FieldKind = "scan"   // a file, =, and the id of a phase
)

// A Field is a setting that can be chosen: a flag of the command line, with what a form says of it.
type Field struct {
	Name, Label string    // of the setting, and as people read it
	Unit        string    // of the value; empty without one
	Help        string    // what it is for and how it is written
	Group       string    // that it is shown in
	Kind        FieldKind // of its value
	Options     []string  // that may be chosen; nil: any
}

// Several reports whether a field takes several values.
func (f Field) Several() bool { return f.Kind == List || f.Kind == Many || f.Kind == Files }

// HoldsFile reports whether values of the field name files.
func (f Field) HoldsFile() bool { return f.Kind == File || f.Kind == Files || f.Kind == Scan }

// The groups of fields, in the order of a form.
const (
	groupBeam     = "Tube and diffractometer"
	groupSpecimen = "Specimen"
	groupSearch   = "What may be in it"
	groupStandard = "Standard"
	groupOther    = "Measured otherwise"
	groupRange    = "What is used of the scan"
)

var fields = []Field{
	{"radiation", "Tube", "", "What the tube is made of, or Kα1 and Kα2 wavelengths in Å, as in 1.5406,1.5444. Without it: what the scan says, else Cu.", groupBeam, Text, []string{"Cr", "Fe", "Co", "Cu", "Mo", "Ag"}},
	{"monochromator", "Monochromator", "", "none, graphite, or the angle 2θ of its crystal in degrees.", groupBeam, Text, []string{"none", "graphite"}},
	{"slit", "Divergence slit", "", "fixed:DEGREES or automatic:MM, as in fixed:1 or automatic:10.", groupBeam, Text, nil},
	{"radius", "Goniometer radius", "mm", "From the specimen to the slit; 200 mm without it.", groupBeam, Number, nil},
	{"geometry", "Geometry", "", "The beam is reflected from the specimen or goes through it.", groupBeam, OneOf, []string{"reflection", "transmission"}},
	{"instrument", "Instrument file", "", "What calibrate has written for this diffractometer. Drop it on the page.", groupBeam, File, nil},
	{"sample", "Name", "", "How the specimen is called in figures and sentences.", groupSpecimen, Text, nil},
	{"section", "Section", "", "How it was cut from its piece; powder for a powder.", groupSpecimen, OneOf, []string{"transverse", "longitudinal", "rolled", "powder"}},
	{"mount", "Mount", "", "What holds it, as epoxy or glass: its halo is expected then.", groupSpecimen, Text, nil},
	{"specimen-length", "Length along the beam", "mm", "Below an angle that follows from it the beam is longer than the specimen.", groupSpecimen, Number, nil},
	{"thickness", "Thickness", "mm", "To check that the beam does not reach through.", groupSpecimen, Number, nil},
	{"blank", "Blank", "", "A scan of the mount and holder without specimen, with the same settings. Drop it on the page.", groupSpecimen, File, nil},
	{"preparation", "Own preparation materials", "", "A table of what grinding and polishing may leave in your laboratory. Drop it on the page.", groupSpecimen, File, nil},
	{"elements", "Elements", "", "Those that may be there, as in Cu,Sn; O, H, C, N, Cl and S are allowed beside them.", groupSearch, List, nil},
	{"strict-elements", "Nothing beside these elements", "", "O, H, C, N, Cl and S are not allowed either, unless named.", groupSearch, Switch, nil},
	{"require", "Must be found", "", "Phases that a search has to take: ids, names or formulae.", groupSearch, List, nil},
	{"exclude", "Must not be found", "", "Phases that a search must not take.", groupSearch, List, nil},
	{"watch", "Wanted limits", "", "Phases whose detection limit is wanted although they are not there.", groupSearch, List, nil},
	{"wanted-limit", "Limit that is wanted", "wt%", "A caution is raised for phases whose limit is above it; 2 wt% without it.", groupSearch, Number, nil},
	{"solid-solution", "Solid solutions", "", "Phases whose cell may depart from the reference by several per cent.", groupSearch, List, nil},
	{"library", "Reference data", "", "CIFs, lists and libraries beside the starter collection. Drop them on the page.", groupSearch, Files, nil},
	{"no-starter", "Without the starter collection", "", "Only your own reference data are used.", groupSearch, Switch, nil},
	{"spike", "Standard mixed in", "", "ID=WT in wt% of the spiked powder, as in corundum=20.", groupStandard, Text, nil},
	{"spike-crystallinity", "Crystalline part of the standard", "", "A mass fraction, as in 0.9902±0.0056; 1 without it.", groupStandard, Text, nil},
	{"anchor", "Phase of known cell", "", "It fixes the angle scale.", groupStandard, Text, nil},
	{"k-standard", "Scan of an external standard", "", "FILE=ID: the scan of a pure phase, same session and counting time. Drop it on the page.", groupStandard, Scan, nil},
	{"k-factor", "Constant of an external standard", "", "As an earlier result gives it, VALUE±U.", groupStandard, Text, nil},
	{"factors", "Factors of reference intensities", "", "The table that the command factors has written from your own weighed mixtures. Drop it on the page.", groupStandard, File, nil},
	{"composition", "Measured chemistry", "wt%", "As in Cu=88,Sn=10±1.", groupOther, Text, nil},
	{"grain", "Diameter of grains", "µm", "Of a powder, as in 3 or 3:corundum.", groupOther, List, nil},
	{"intercept", "Mean linear intercept", "µm", "Of the regions of a section, as in 8±2 or 8±2:copper.", groupOther, Many, nil},
	{"intercept-cv2", "Spread of the intercepts", "", "Their standard deviation over their mean, squared, as in 0.6±0.2; 0.5±0.3 is taken otherwise.", groupOther, Text, nil},
	{"area", "Area fraction", "%", "Of a phase on a micrograph, as in lead=8±1.", groupOther, Many, nil},
	{"range", "Range", "° 2θ", "Only this range is used, LO:HI.", groupRange, Text, nil},
	{"mask", "Ranges left out", "° 2θ", "LO:HI for each.", groupRange, Many, nil},
}

// Fields lists what can be set, in the order of a form and of a command line.
func Fields() []Field { return slices.Clone(fields) }

// FieldOf returns the field of a name; false without one.
func FieldOf(name string) (Field, bool) {
	i := slices.IndexFunc(fields, func(f Field) bool { return f.Name == name })
	if i < 0 {
		return Field{}, false
	}
	return fields[i], true
}

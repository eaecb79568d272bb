package main

import (
	"io"

	"github.com/spf13/cobra"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

// options are the flags that commands share, as typed.
type options struct {
	radiation, monochromator, slit string
	geometry                       string
	radius, length                 float64
	section, mount, sample         string
	blank, instrument, preparation string
	libraries                      []string
	noStarter                      bool
	elements                       []string
	strict                         bool
	require, phases, exclude       []string
	solutions                      []string
	spike, anchor                  string
	kFactor, kStandard             string
	crystallinity                  string
	factorTable                    string
	composition                    string
	grains, watch, aside           []string
	intercepts, areas              []string
	interceptCV2                   string
	thickness, wanted              float64
	span                           string
	masks                          []string
	out                            string
	force                          bool
	format, csvLocale              string
	quiet                          bool
	jobs                           int
	others                         []result.Analysis      // of further scans of the specimen
	stdin                          io.Reader              // what "-" stands for; nil: it stands for nothing
	reading                        func(library.Progress) // is told how much of the reference data is read; nil: nobody asks
}

// scanFlags adds what describes scan and specimen.
func (o *options) scanFlags(c *cobra.Command) {
	o.measurementFlags(c)
	f := c.Flags()
	f.Float64Var(&o.length, "specimen-length", 0, "length of the specimen along the beam, mm")
	f.StringVar(&o.section, "section", "", "transverse, longitudinal, rolled or powder")
}

// measurementFlags adds what describes the scan, as far as its peaks follow from it.
func (o *options) measurementFlags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.radiation, "radiation", "", "tube (Cr, Fe, Co, Cu, Mo, Ag) or wavelengths in Å (1.5406,1.5444; one alone, 1.5406, only for a beam without Kα2); default: what the scan says, else Cu")
	f.StringVar(&o.monochromator, "monochromator", "", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&o.slit, "slit", "", "divergence slit: fixed:DEGREES or automatic:MM")
	f.StringVar(&o.geometry, "geometry", "", "reflection, or transmission through a thin specimen or capillary (default: what the scan says, else reflection)")
	f.Float64Var(&o.radius, "radius", 0, "goniometer radius, mm (default 200)")
	f.StringVar(&o.mount, "mount", "", "what holds the specimen (epoxy, acrylic, glass, graphite-filled resin …): its halo and lines are expected")
	f.StringVar(&o.preparation, "preparation", "", "table of your own preparation materials (CSV): they join the watch-list")
	f.StringVar(&o.sample, "sample", "", "name of the specimen (default: what the scan says)")
	f.StringVar(&o.instrument, "instrument", "", "instrument file that calibrate wrote")
	f.StringVar(&o.span, "range", "", "use only LO:HI degrees 2θ")
	f.StringArrayVar(&o.masks, "mask", nil, "leave out LO:HI degrees 2θ (repeatable)")
	o.outputFlags(c)
}

// outputFlags adds where results go.
func (o *options) outputFlags(c *cobra.Command) {
	f := c.Flags()
	settingsFlags(c)
	f.StringVar(&o.out, "out", "", "folder for the results")
	f.BoolVar(&o.force, "force", false, "replace an existing result folder")
	f.StringVar(&o.format, "format", "text", "what to print: text, json or csv")
	f.StringVar(&o.csvLocale, "csv-locale", "", csvLocaleHelp)
	f.BoolVar(&o.quiet, "quiet", false, "print nothing but errors, and JSON or CSV that --format asks for")
	f.IntVar(&o.jobs, "jobs", 0, "how many cores to use (default 2)")
}

// collectionFlags adds which reference data to use.
func (o *options) collectionFlags(c *cobra.Command) {
	f := c.Flags()
	f.StringArrayVar(&o.libraries, "library", nil, "CIF, list, folder of them or built library to add (repeatable)")
	f.StringSliceVar(&o.solutions, "solid-solution", nil, "phases whose cell may depart from the reference by several per cent (repeatable)")
	f.BoolVar(&o.noStarter, "no-starter", false, "do not use the starter collection")
}

// searchFlags adds which phases may be named.
func (o *options) searchFlags(c *cobra.Command) {
	o.collectionFlags(c)
	f := c.Flags()
	f.StringSliceVar(&o.elements, "elements", nil, "elements present, Cu,Sn; O, H, C, N, Cl, S are allowed beside them")
	f.BoolVar(&o.strict, "strict-elements", false, "allow nothing beside --elements")
	f.StringSliceVar(&o.require, "require", nil, "phases that must be part of the answer: ids, names or formulae")
	f.StringSliceVar(&o.exclude, "exclude", nil, "phases that must not be part of it")
}

// amountFlags adds what turns intensities into amounts.
func (o *options) amountFlags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.blank, "blank", "", "scan of the mount and holder without specimen, same settings")
	f.StringVar(&o.spike, "spike", "", "standard mixed into the powder, ID=WT in wt% of the spiked powder")
	f.StringVar(&o.anchor, "anchor", "", "phase of known cell that fixes the angle scale (default: that of --spike)")
	f.StringVar(&o.kStandard, "k-standard", "", "external standard, SCAN=ID: scan of a pure phase, same session and counting time")
	f.StringVar(&o.kFactor, "k-factor", "", "constant of an external standard as an earlier result gives it, VALUE±U")
	f.StringVar(&o.crystallinity, "spike-crystallinity", "1", "mass fraction of the standard that is crystalline, as in 0.9902±0.0056")
	f.StringVar(&o.factorTable, "factors", "", "table of factors from your own weighed mixtures, which 'factors' wrote, to correct reference intensities with")
	f.StringSliceVar(&o.grains, "grain", nil, "diameter of the grains of a powder, MICRON or MICRON:ID (repeatable), to correct for absorption in them")
	f.StringArrayVar(&o.intercepts, "intercept", nil, "mean linear intercept of the regions of a section, MICRON±U or MICRON±U:ID (repeatable), for the absorption in them")
	f.StringVar(&o.interceptCV2, "intercept-cv2", "", "how much the intercepts differ: (standard deviation over mean)², CV2±U (1: regions end as if by chance; default 0.5±0.3)")
	f.StringArrayVar(&o.areas, "area", nil, "area fraction of a phase on a micrograph, ID=PERCENT±U (repeatable), to compare and combine with")
	f.StringSliceVar(&o.aside, "aside", nil, "phases that preparation has left, as grit: they are fitted and not counted in the 100 % (repeatable)")
	f.StringSliceVar(&o.watch, "watch", nil, "phases whose detection limit is wanted although they are not there (repeatable)")
	f.Float64Var(&o.wanted, "wanted-limit", 2, "detection limit, wt%, that is wanted for the phases of --watch and --phase")
	f.Float64Var(&o.thickness, "thickness", 0, "thickness of the specimen, mm, to check that the beam does not reach through")
	f.StringVar(&o.composition, "composition", "", "measured chemistry in wt%, Cu=88,Sn=10±1, to check the phases against and for the absorption that --k-factor needs")
}

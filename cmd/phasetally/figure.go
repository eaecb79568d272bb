package main

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"phasetally/plots"
)

// figureOptions are the flags of the figure command.
type figureOptions struct {
	kind, theme, span, scale, phase, out, title string
	dark, hkl, force                            bool
	insets                                      []string
	language, words                             string
	printWords                                  bool
}

func newFigure() *cobra.Command {
	var o figureOptions
	c := &cobra.Command{
		Use:   "figure FOLDER",
		Short: "Redraw from a result folder",
		Long:  "Draw a figure of a result folder again, with another theme, range, scale or language. Nothing is analysed anew.",
		Example: `  phasetally figure bushing-aged-phases --theme slide --range 40:50 --hkl --out pattern-slide.svg
  phasetally figure bushing-aged-phases --kind evidence --phase cu6sn5-eta --out evidence.pdf`,
		Args: func(c *cobra.Command, args []string) error {
			if o.printWords && len(args) == 0 {
				return nil
			}
			return oneFolder(c, args)
		},
	}
	f := c.Flags()
	f.StringVar(&o.kind, "kind", "pattern", "pattern, fractions, evidence, budget; of a series: trend, stack, difference")
	f.StringVar(&o.theme, "theme", "two-column", "two-column, one-column or slide")
	f.BoolVar(&o.dark, "dark", false, "light on dark")
	f.StringVar(&o.span, "range", "", "draw only LO:HI degrees 2θ (pattern, stack, difference)")
	f.StringVar(&o.scale, "scale", "sqrt", "intensity axis: sqrt or linear (pattern)")
	f.BoolVar(&o.hkl, "hkl", false, "write the reflections at the peaks (pattern)")
	f.StringArrayVar(&o.insets, "inset", nil, "enlarge LO:HI degrees 2θ in a corner, or auto: about lines of minor phases (pattern; repeatable)")
	f.StringVar(&o.phase, "phase", "", "id of the phase (evidence)")
	f.StringVar(&o.title, "title", "", "title instead of the answer (pattern)")
	f.StringVar(&o.language, "language", "en", "of the labels: "+strings.Join(plots.Languages(), " or "))
	f.StringVar(&o.words, "words", "", "table of labels in another language; what it leaves out is English")
	f.BoolVar(&o.printWords, "print-words", false, "print the table of labels, to be translated, and stop")
	f.StringVar(&o.out, "out", "", "file to write: .svg, .pdf or .png (default: KIND.svg in the present folder)")
	f.BoolVar(&o.force, "force", false, "replace a figure of that name")
	checked(c, func(_ *cobra.Command, _ []string) error {
		_, _, err := o.check()
		return err
	})
	c.RunE = func(c *cobra.Command, args []string) error {
		style, pattern, err := o.check()
		if err != nil {
			return err
		}
		if o.printWords {
			return plots.WriteWords(c.OutOrStdout(), style)
		}
		draw := o.scanFigure
		if slices.Contains(seriesKinds, o.kind) {
			draw = o.seriesFigure
		}
		figure, err := draw(args[0], style, pattern)
		if err != nil {
			return err
		}
		return saveFigure(o.out, figure)
	}
	return c
}

// check looks at the flags before anything is read.
func (o *figureOptions) check() (plots.Style, plots.PatternOptions, error) {
	var wrong troubles
	style, err := o.style()
	wrong.note(err)
	pattern := plots.PatternOptions{Linear: o.scale == "linear", HKL: o.hkl, Title: o.title}
	if o.printWords {
		return style, pattern, wrong.err()
	}
	if !slices.Contains(slices.Concat(scanKinds, seriesKinds), o.kind) {
		wrong.note(fmt.Errorf("--kind %q: give one of %s", o.kind, strings.Join(slices.Concat(scanKinds, seriesKinds), ", ")))
	}
	if o.scale != "sqrt" && o.scale != "linear" {
		wrong.note(fmt.Errorf("--scale %q: give sqrt or linear", o.scale))
	}
	if utf8.RuneCountInString(o.title) > longestName {
		wrong.note(fmt.Errorf("--title has %d letters; give at most %d", utf8.RuneCountInString(o.title), longestName))
	}
	if o.kind == "evidence" && o.phase == "" {
		wrong.note(fmt.Errorf("--kind evidence: name the phase with --phase"))
	}
	o.out = first(o.out, o.kind+".svg")
	wrong.note(checkFigure("--out", o.out, o.force))
	if o.span != "" {
		span, err := parseRange("--range", o.span)
		wrong.note(err)
		pattern.Lo, pattern.Hi = span[0], span[1]
	}
	for _, s := range o.insets {
		if s == "auto" {
			pattern.MinorInsets = true
			continue
		}
		span, err := parseRange("--inset", s)
		wrong.note(err)
		pattern.Insets = append(pattern.Insets, span)
	}
	return style, pattern, wrong.err()
}

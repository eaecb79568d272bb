package plots

import (
	"errors"
	"fmt"
	"image/color"
	"strings"
)

// Medium says where a figure will be shown.
type Medium int

// The media: two columns of a journal (180 mm wide, the default), one column (85 mm), a 16:9 slide whose smallest
// text is 14 pt.
const (
	TwoColumn Medium = iota
	OneColumn
	Slide
)

var mediumNames = [...]string{TwoColumn: "two-column", OneColumn: "one-column", Slide: "slide"}

// ErrUnknownMedium says that a medium's name was not understood; test with errors.Is.
var ErrUnknownMedium = errors.New("unknown figure theme")

// ParseMedium understands "two-column", "one-column" and "slide"; "" is the default.
func ParseMedium(s string) (Medium, error) {
	if s == "" {
		return TwoColumn, nil
	}
	for m, name := range mediumNames {
		if strings.EqualFold(name, s) {
			return Medium(m), nil
		}
	}
	return 0, fmt.Errorf("%w %q: give one of %s", ErrUnknownMedium, s, strings.Join(mediumNames[:], ", "))
}

// String names the medium as ParseMedium reads it; one that is not known is a number.
func (m Medium) String() string {
	if m < 0 || int(m) >= len(mediumNames) {
		return fmt.Sprintf("medium %d", int(m))
	}
	return mediumNames[m]
}

// Style is the look of a figure; its zero value is a light figure for two columns with English words.
type Style struct {
	Medium Medium       // that the figure is for
	Width  float64      // mm, LeastWidth to MostWidth; 0: that of the medium
	Dark   bool         // light on dark ground
	Words  *Words       // labels; nil means English
	Series *SeriesWords // labels of the figures of a series; nil means English
}

// measure holds the sizes, in points, that follow from the medium.
type measure struct {
	width, height float64
	small, text   float64 // font sizes: ticks and notes; labels and titles
	line          float64 // width of the observed curve
	dpi           int     // of PNG output
}

const perMM = 72 / 25.4

// Widths that a figure of its own width may have, mm: narrower ones have no room for their labels, wider ones fit no page.
const (
	LeastWidth = 60.0
	MostWidth  = 400.0
)

// Widths of the media for print, mm, and their heights, between and beyond which that of another width follows a straight line.
const (
	oneColumnWidth, oneColumnHeight = 85.0, 95.0
	twoColumnWidth, twoColumnHeight = 180.0, 115.0
)

// ErrWidth says that a figure cannot be drawn so wide; test with errors.Is.
var ErrWidth = fmt.Errorf("a figure is %g to %g mm wide", LeastWidth, MostWidth)

// Wide returns a style for print of a width in mm, with the letters of the medium that is nearest; ErrWidth outside the bounds.
func (s Style) Wide(mm float64) (Style, error) {
	if !(mm >= LeastWidth && mm <= MostWidth) {
		return s, ErrWidth
	}
	s.Width, s.Medium = mm, TwoColumn
	if mm < (oneColumnWidth+twoColumnWidth)/2 {
		s.Medium = OneColumn
	}
	return s, nil
}

func (s Style) measure() measure {
	m := s.ofMedium()
	if s.Width > 0 {
		m.width = s.Width * perMM
		m.height = (oneColumnHeight + (s.Width-oneColumnWidth)*(twoColumnHeight-oneColumnHeight)/(twoColumnWidth-oneColumnWidth)) * perMM
	}
	return m
}

func (s Style) ofMedium() measure {
	switch s.Medium {
	case OneColumn:
		return measure{oneColumnWidth * perMM, oneColumnHeight * perMM, 6, 7, 0.35, 300}
	case Slide:
		return measure{960, 540, 14, 18, 0.9, 144}
	}
	return measure{twoColumnWidth * perMM, twoColumnHeight * perMM, 7, 8.5, 0.45, 200}
}

// theme holds the neutral colours of a light or a dark figure.
type theme struct {
	paper, ink, quiet, grid, shade, curve, alarm color.NRGBA
}

func (s Style) theme() theme {
	if s.Dark {
		return theme{paper: hex("#14181D"), ink: hex("#F2F4F5"), quiet: hex("#AEB7BF"), grid: hex("#38414A"),
			shade: hex("#242B32"), curve: hex("#C9D0D6"), alarm: hex("#FFB35C")}
	}
	return theme{paper: hex("#FFFFFF"), ink: hex("#16191C"), quiet: hex("#555E66"), grid: hex("#D5DADE"),
		shade: hex("#EEF0F2"), curve: hex("#4A5259"), alarm: hex("#A33B00")}
}

func (s Style) words() *Words {
	if s.Words == nil {
		return &English
	}
	return s.Words
}

// hex reads #RRGGBB; it is used on constants only.
func hex(s string) color.NRGBA {
	digit := func(i int) uint8 {
		v := func(b byte) uint8 {
			if b >= 'A' {
				return b - 'A' + 10
			}
			return b - '0'
		}
		return v(s[i])<<4 | v(s[i+1])
	}
	return color.NRGBA{digit(1), digit(3), digit(5), 255}
}

package main

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

// TestStandingFitsTheTerminal: the line is as wide as the terminal at most, or it would not be wiped away, and nothing of it stays.
func TestStandingFitsTheTerminal(t *testing.T) {
	for _, width := range []int{0, 5, 20, 80, 300} {
		var out bytes.Buffer
		s := standingOn(&out, func() int { return width })
		s.tell(result.Progress{Doing: "trying " + strings.Repeat("µ and ", 20), Peaks: 30, Found: []string{"copper"}, Share: 0.5})
		s.show()
		shown := strings.TrimSpace(strings.ReplaceAll(out.String(), "\r", ""))
		if width == 300 {
			assert.Contains(t, shown, "candidates for 50 % of the peak area so far: copper; trying µ and µ")
		}
		if width >= 20 {
			assert.Less(t, utf8.RuneCountInString(shown), width)
		}
		if width == 80 {
			assert.Contains(t, shown, "candidates for 50 % of the peak area so far: copper; tryi")
		}
		s.end()
		lines := strings.Split(out.String(), "\r")
		assert.Empty(t, strings.TrimSpace(lines[len(lines)-1]), "it is wiped away")
		assert.Empty(t, strings.TrimSpace(lines[len(lines)-2]))
	}
}

// TestNobodyLooks: nothing is written where no terminal is, and saying so is no fault.
func TestNobodyLooks(t *testing.T) {
	var out bytes.Buffer
	s := (&options{}).newStanding(t.Context(), &out)
	s.tell(result.Progress{Doing: "x"})
	s.end()
	s.end()
	assert.Empty(t, out.String())
}

// TestReadingIsShown: whoever waits for many files is told how many are read, and what saves that; of a few nobody need know.
func TestReadingIsShown(t *testing.T) {
	for total, want := range map[int]string{3: "reading the reference data: 2 of 3 files", 5000: "reading the reference data: 2 of 5000 files; 'library build' makes one"} {
		var out bytes.Buffer
		s := standingOn(&out, func() int { return 200 })
		s.reading(library.Progress{Done: 2, Total: total})
		s.show()
		assert.Contains(t, out.String(), want)
		assert.Equal(t, total >= manyFiles, strings.Contains(out.String(), "library build"))
	}
}

// A terminal without a window behind it says that it is 0 characters wide.
func TestWidthThatNobodySays(t *testing.T) {
	assert.Equal(t, usualWidth, saidWidth(0, nil))
	assert.Equal(t, usualWidth, saidWidth(120, errors.ErrUnsupported))
	assert.Equal(t, 120, saidWidth(120, nil))
}

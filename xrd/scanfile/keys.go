package scanfile

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"phasetally/xrd"
)

// sections are the ways a section may lie.
var sections = []string{"transverse", "longitudinal", "rolled", "powder"}

// readKey reads the body of a comment as "key: value". Comments without a colon say nothing, and neither do unknown keys, but those
// that look like a known one are noted.
func (f *file) readKey(body string) error {
	key, value, ok := strings.Cut(xrd.Printable(utf8Text(body)), ":")
	key, value = strings.ToLower(strings.TrimSpace(key)), strings.TrimSpace(value)
	set, known := keys[key]
	if !ok || value == "" {
		return nil
	}
	if !known {
		f.noteSlip(key)
		return nil
	}
	if before, given := f.keys[key]; given && before != value {
		return fmt.Errorf("%w: %s is given twice, as %q and %q", ErrKey, key, short(before), short(value))
	}
	if err := set(f, value); err != nil {
		return fmt.Errorf("%w of %s: %w", ErrKey, key, err)
	}
	if f.keys == nil {
		f.keys = map[string]string{}
	}
	f.keys[key] = value
	return f.matchRadiation()
}

// mostSlips is how many misspelt keys are noted: a file with more has a header of another kind.
const mostSlips = 5

// noteSlip notes an unknown key that looks like a known one.
func (f *file) noteSlip(key string) {
	if like := nearestKey(key); like != "" && len(f.about.Slips) < mostSlips {
		f.about.Slips = append(f.about.Slips, xrd.KeySlip{Line: f.line, Key: key, Like: like})
	}
}

// nearestKey returns the key that a word in lower case is a slip of: other separators, a unit that is left out, one letter put in,
// left out, changed or swapped with its neighbour, two in long keys; empty without one.
func nearestKey(word string) string {
	if len(word) < 4 || len(word) > 30 {
		return ""
	}
	word = strings.NewReplacer(" ", "_", "-", "_", ".", "_", "(", "", ")", "", "[", "", "]", "").Replace(word)
	for _, key := range keyNames {
		bare := strings.TrimSuffix(strings.TrimSuffix(key, "_mm"), "_s")
		limit := 1
		if len(bare) >= 9 {
			limit = 2
		}
		if xrd.EditDistance(word, key) <= limit || xrd.EditDistance(word, bare) <= limit {
			return key
		}
	}
	return ""
}

// keyNames are the known keys in order.
var keyNames = slices.Sorted(maps.Keys(keys))

// keys says what each key sets.
var keys = map[string]func(f *file, value string) error{
	"sample": func(f *file, v string) error { f.about.Sample = v; return nil },
	"mount":  func(f *file, v string) error { f.about.Mount = v; return nil },
	"simulated": func(f *file, v string) error {
		f.about.Simulated = v
		return nil
	},
	"radiation": func(f *file, v string) error {
		_, err := xrd.ParseRadiation(v)
		return err
	},
	"wavelength": func(f *file, v string) error {
		r, err := xrd.ParseRadiation(v)
		if err == nil && strings.ContainsAny(v[:1], "CFMAcfma") {
			return fmt.Errorf("%w %q: give one or two wavelengths in Å", xrd.ErrUnknownRadiation, r.Name)
		}
		return err
	},
	"monochromator": func(f *file, v string) error {
		_, err := xrd.ParseMonochromator(v, xrd.Radiation{KAlpha1: 1})
		f.about.Monochromator = v
		return err
	},
	"slit": func(f *file, v string) error {
		slit, err := xrd.ParseSlit(v)
		f.about.Slit = &slit
		return err
	},
	"geometry": func(f *file, v string) error {
		g, err := xrd.ParseGeometry(v)
		f.about.Geometry = &g
		return err
	},
	"radius_mm":          positive(func(f *file) *float64 { return &f.about.Radius }),
	"specimen_length_mm": positive(func(f *file) *float64 { return &f.about.SpecimenLength }),
	"counting_time_s":    positive(func(f *file) *float64 { return &f.about.CountingTime }),
	"intercept": func(f *file, v string) (err error) {
		f.about.Intercepts, err = xrd.ParseIntercepts(v)
		return err
	},
	"intercept_cv2": func(f *file, v string) (err error) {
		f.about.InterceptCV2, err = xrd.ParseInterceptSpread(v)
		return err
	},
	"section": func(f *file, v string) error {
		f.about.Section = strings.ToLower(v)
		if !slices.Contains(sections, f.about.Section) {
			return fmt.Errorf("%q is not one of %s", short(v), strings.Join(sections, ", "))
		}
		return nil
	},
}

// positive sets a quantity that must be a number above zero.
func positive(field func(*file) *float64) func(*file, string) error {
	return func(f *file, value string) error {
		v, err := strconv.ParseFloat(strings.Replace(value, ",", ".", 1), 64)
		if err != nil || !(v > 0 && v <= 1e6) {
			return fmt.Errorf("%q is not a number above 0", short(value))
		}
		*field(f) = v
		return nil
	}
}

// matchRadiation joins the keys radiation and wavelength, which may come in either order: the wavelength must belong to
// the radiation; one that does only confirms it, two replace those of the table.
func (f *file) matchRadiation() error {
	named, hasName := f.keys["radiation"]
	given, hasGiven := f.keys["wavelength"]
	if !hasName && !hasGiven {
		return nil
	}
	if !hasName {
		named = given
	}
	r, err := xrd.ParseRadiation(named)
	if err != nil {
		return err
	}
	if hasName && hasGiven {
		w, err := xrd.ParseRadiation(given)
		if err != nil {
			return err
		}
		if d := w.KAlpha1/r.KAlpha1 - 1; !(d > -1e-3 && d < 1e-3) {
			return fmt.Errorf("%w of wavelength: %g Å does not belong to radiation %s (%g Å)", ErrKey, w.KAlpha1, r.Name, r.KAlpha1)
		}
		if w.KAlpha2 > 0 {
			r.KAlpha1, r.KAlpha2 = w.KAlpha1, w.KAlpha2
		}
	}
	f.about.Radiation = &r
	return nil
}

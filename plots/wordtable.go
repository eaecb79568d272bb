package plots

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io"
	"maps"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"github.com/BurntSushi/toml"

	"phasetally/xrd"
)

//go:embed words/*.toml
var wordFiles embed.FS

// Why a table of words is refused; test with errors.Is.
var (
	ErrWordTable = errors.New("not a table of words")
	ErrWordKey   = errors.New("no such word in the figures")
	ErrWordVerbs = errors.New("the places for numbers and names are not those of the English words")
	ErrLanguage  = errors.New("no words in that language")
)

const mostWordBytes = 1 << 16

// Languages returns the tags of the languages that figures speak by themselves.
func Languages() []string {
	out := []string{English.Language}
	entries, _ := wordFiles.ReadDir("words") // compiled in
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), ".toml"))
	}
	return out
}

// In returns a style whose figures speak a language of Languages; another tag is ErrLanguage.
func (s Style) In(language string) (Style, error) {
	if strings.EqualFold(language, English.Language) {
		s.Words, s.Series = nil, nil
		return s, nil
	}
	f, err := wordFiles.Open("words/" + strings.ToLower(language) + ".toml")
	if err != nil {
		return s, fmt.Errorf("%w: %q; there are %s", ErrLanguage, language, strings.Join(Languages(), ", "))
	}
	defer f.Close()
	return s.ReadWords(f, language+".toml")
}

// ReadWords returns a style whose figures use a table of words: TOML as WriteWords prints it. What the table leaves out
// stays English. A table that cannot be used is a *xrd.SyntaxError.
func (s Style) ReadWords(r io.Reader, name string) (Style, error) {
	raw, err := io.ReadAll(io.LimitReader(r, mostWordBytes+1))
	if err == nil && len(raw) > mostWordBytes {
		err = fmt.Errorf("%w: longer than %d bytes", ErrWordTable, mostWordBytes)
	}
	var table map[string]any
	if err == nil {
		_, err = toml.Decode(string(raw), &table)
	}
	var at toml.ParseError
	if errors.As(err, &at) {
		return s, &xrd.SyntaxError{File: name, Line: at.Position.Line, Err: fmt.Errorf("%w: %s", ErrWordTable, at.Message), Fix: wordFix}
	}
	if err != nil {
		return s, &xrd.SyntaxError{File: name, Err: err, Fix: wordFix}
	}
	words, series := English, EnglishSeries
	words.Terms = map[string]string{}
	fields := wordFields(&words, &series)
	for _, key := range slices.Sorted(maps.Keys(table)) {
		err := setWord(fields[key], key, table[key])
		if terms, ok := table[key].(map[string]any); ok && key == "terms" {
			err = setTerms(words.Terms, terms)
		}
		if err != nil {
			return s, &xrd.SyntaxError{File: name, Line: lineOf(raw, key), Err: err, Fix: wordFix}
		}
	}
	s.Words, s.Series = &words, &series
	return s, nil
}

const wordFix = "compare with the table that 'phasetally figure --print-words' prints"

// lineOf finds the line that sets a key, 0 when it is written in some other way.
func lineOf(raw []byte, key string) int {
	for i, line := range bytes.Split(raw, []byte("\n")) {
		if name, _, ok := bytes.Cut(line, []byte("=")); ok && string(bytes.TrimSpace(name)) == key {
			return i + 1
		}
	}
	return 0
}

// setTerms puts the translations of words of the result in their place.
func setTerms(into map[string]string, terms map[string]any) error {
	for name, v := range terms {
		text, ok := v.(string)
		if !ok {
			return fmt.Errorf("%w: terms: %q is no text", ErrWordTable, name)
		}
		into[name] = text
	}
	return nil
}

// setWord puts one entry of a table in its place, a field that is not valid when there is none.
func setWord(field reflect.Value, key string, value any) error {
	text, ok := value.(string)
	switch {
	case !field.IsValid():
		return fmt.Errorf("%w: %q", ErrWordKey, key)
	case !ok || text == "":
		return fmt.Errorf("%w: %q is no text", ErrWordTable, key)
	case !slices.Equal(verbs(text), verbs(field.String())) || !prints(text, field.String()):
		return fmt.Errorf("%w: %q has %v, here %v", ErrWordVerbs, key, verbs(field.String()), verbs(text))
	}
	field.SetString(text)
	return nil
}

// wordFields are the texts of both tables by key.
func wordFields(words *Words, series *SeriesWords) map[string]reflect.Value {
	out := map[string]reflect.Value{}
	for _, table := range []reflect.Value{reflect.ValueOf(words).Elem(), reflect.ValueOf(series).Elem()} {
		for i := range table.NumField() {
			if f := table.Field(i); f.Kind() == reflect.String {
				out[wordKey(table, i)] = f
			}
		}
	}
	return out
}

// wordKey is the name of a field in a table: words_like_this. Words that both tables have are told apart by "series_".
func wordKey(table reflect.Value, i int) string {
	name := table.Type().Field(i).Name
	key := ""
	for k, r := range name {
		if k > 0 && unicode.IsUpper(r) && !unicode.IsUpper(rune(name[k-1])) {
			key += "_"
		}
		key += string(unicode.ToLower(r))
	}
	if _, shared := reflect.TypeFor[Words]().FieldByName(name); shared && table.Type() == reflect.TypeFor[SeriesWords]() {
		return "series_" + key
	}
	return key
}

var verb = regexp.MustCompile(`%[sd]`)

// verbs are the places for numbers and names, in order.
func verbs(s string) []string {
	return verb.FindAllString(strings.ReplaceAll(s, "%%", ""), -1)
}

// prints reports whether a text can stand for an English one into which numbers and names are put: every other per cent
// sign is written twice there.
func prints(text, english string) bool {
	if len(verbs(english)) == 0 && !strings.Contains(english, "%%") {
		return true
	}
	var some []any
	for _, v := range verbs(text) {
		if v == "%d" {
			some = append(some, 1)
		} else {
			some = append(some, "x")
		}
	}
	return !strings.Contains(fmt.Sprintf(text, some...), "%!")
}

// WriteWords prints the words of a style as a table that ReadWords understands.
func WriteWords(w io.Writer, s Style) error {
	words, series := *s.words(), *s.seriesWords()
	for _, table := range []reflect.Value{reflect.ValueOf(words), reflect.ValueOf(series)} {
		for i := range table.NumField() {
			if f := table.Field(i); f.Kind() == reflect.String {
				if err := writeWord(w, wordKey(table, i), f.String()); err != nil {
					return err
				}
			}
		}
	}
	if _, err := fmt.Fprint(w, "\n[terms] # of words that come from the result\n"); err != nil {
		return err
	}
	terms := words.Terms
	if len(terms) == 0 {
		terms = map[string]string{"preparation": "preparation", "standard": "standard"}
	}
	for _, name := range slices.Sorted(maps.Keys(terms)) {
		if err := writeWord(w, name, terms[name]); err != nil {
			return err
		}
	}
	return nil
}

// writeWord writes one line of the table.
func writeWord(w io.Writer, key, text string) error {
	line, err := toml.Marshal(map[string]string{key: strings.ToValidUTF8(text, "\uFFFD")})
	if err == nil {
		_, err = w.Write(line)
	}
	return err
}

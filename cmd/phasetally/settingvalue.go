package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"
)

// pathFlags name files; in a file of settings they are relative to it.
var pathFlags = []string{"library", "instrument", "preparation", "blank"}

// settingOf is the value of a flag as it is written; paths are told from where the file lies.
func settingOf(f *pflag.Flag, folder string) any {
	path := func(s string) string {
		a, errA := filepath.Abs(folder)
		b, errB := filepath.Abs(s)
		if r, err := filepath.Rel(a, b); slices.Contains(pathFlags, f.Name) && errors.Join(errA, errB, err) == nil && !filepath.IsAbs(s) {
			return filepath.ToSlash(r)
		}
		return s
	}
	if many, ok := f.Value.(pflag.SliceValue); ok {
		list := slices.Clone(many.GetSlice())
		for i := range list {
			list[i] = path(list[i])
		}
		return list
	}
	switch text := f.Value.String(); f.Value.Type() {
	case "bool":
		return text == "true"
	case "float64", "int", "uint":
		if v, err := strconv.ParseFloat(text, 64); err == nil {
			return v
		}
		return text
	default:
		return path(text)
	}
}

// setFlag gives a flag the value of a key.
func setFlag(flags *pflag.FlagSet, f *pflag.Flag, value any, file string) error {
	list, isList := value.([]any)
	if !isList {
		list = []any{value}
	}
	text := make([]string, len(list))
	for i, v := range list {
		if text[i] = fmt.Sprint(v); slices.Contains(pathFlags, f.Name) && !filepath.IsAbs(text[i]) && text[i] != "" {
			text[i] = filepath.Join(filepath.Dir(file), text[i])
		}
	}
	var err error
	switch many, ok := f.Value.(pflag.SliceValue); {
	case ok && isList:
		err, f.Changed = many.Replace(text), true
	case isList:
		err = errors.New("one value is needed, not a list")
	default:
		err = flags.Set(f.Name, text[0])
	}
	if err != nil {
		return fmt.Errorf("%s: %s: %.60q does not fit; --%s is for: %s", file, f.Name, strings.Join(text, ","), f.Name, f.Usage)
	}
	return nil
}

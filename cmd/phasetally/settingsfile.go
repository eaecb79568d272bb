package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/BurntSushi/toml"
	"github.com/spf13/pflag"

	"phasetally/xrd/resultfile"
)

func readSettings(flags *pflag.FlagSet, name string, known map[string]bool) error {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return noFile(err)
	case !info.Mode().IsRegular() || info.Size() > mostSettings:
		return fmt.Errorf("%s: is no file of settings; write one with --save-settings", name)
	}
	raw, err := os.ReadFile(name)
	if err != nil {
		return noFile(err)
	}
	var all map[string]any
	if err := toml.Unmarshal(bytes.TrimPrefix(raw, []byte("\ufeff")), &all); err != nil {
		var at toml.ParseError
		if errors.As(err, &at) {
			return fmt.Errorf("%s:%d: %s; correct the line", name, at.Position.Line, at.Message)
		}
		return fmt.Errorf("%s: %w", name, err)
	}
	if all["schema"] != settingsSchema {
		return fmt.Errorf("%s: does not begin with schema = %q; write the file with --save-settings", name, settingsSchema)
	}
	delete(all, "schema")
	var wrong troubles
	for key, value := range all {
		switch f := flags.Lookup(key); {
		case !known[key] || slices.Contains(ofOneRun, key):
			wrong.note(fmt.Errorf("%s: unknown key %q; keys are the flags of the commands without the dashes, but for those of a single run such as --out", name, key))
		case f == nil || f.Changed: // of another command, or on the command line
		default:
			wrong.note(setFlag(flags, f, value, name))
		}
	}
	return wrong.err()
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

// writeSettings keeps the flags that were given, and those of the file that was begun with.
func writeSettings(flags *pflag.FlagSet, name string) error {
	b := bytes.NewBufferString(string(settingsMark) + "\" # saved flags of phasetally, for --settings\n")
	var wrong troubles
	flags.Visit(func(f *pflag.Flag) {
		if !slices.Contains(ofOneRun, f.Name) {
			wrong.note(toml.NewEncoder(b).Encode(map[string]any{f.Name: settingOf(f, filepath.Dir(name))}))
		}
	})
	if err := wrong.err(); err != nil {
		return failure{err}
	}
	return resultfile.WriteFile(name, b.Bytes())
}

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

package main

import (
	"encoding/binary"
	"os"
	"slices"
	"strings"
	"unicode/utf16"

	"github.com/rogpeppe/go-internal/testscript"
)

// forms are the ways in which instruments export a scan of two columns.
var forms = map[string]func(rows []string) string{
	"tabs":       func(rows []string) string { return "Angle\tIntensity\n" + joined(rows, " ", "\t") },
	"commas":     func(rows []string) string { return "2theta (deg),counts\n" + joined(rows, " ", ",") },
	"semicolons": func(rows []string) string { return joined(rows, ".", ",", " ", ";") },
	"windows":    func(rows []string) string { return "\ufeff" + joined(rows, " ", "  ", "\n", "\r\n") },
	"utf16": func(rows []string) string {
		var b []byte
		for _, u := range utf16.Encode([]rune("\ufeff" + joined(rows))) {
			b = binary.LittleEndian.AppendUint16(b, u)
		}
		return string(b)
	},
	"descending": func(rows []string) string {
		rows = slices.Clone(rows)
		slices.Reverse(rows)
		return joined(rows)
	},
}

// joined makes a text of rows and replaces pairs in it.
func joined(rows []string, pairs ...string) string {
	return strings.NewReplacer(pairs...).Replace(strings.Join(rows, "\n") + "\n")
}

// rewrite FROM TO FORM writes the numbers of a scan in another form, without its comments.
func rewrite(ts *testscript.TestScript, _ bool, args []string) {
	var rows []string
	for row := range strings.Lines(ts.ReadFile(args[0])) {
		if !strings.HasPrefix(row, "#") {
			rows = append(rows, strings.TrimSpace(row))
		}
	}
	form, ok := forms[args[2]]
	if !ok {
		ts.Fatalf("no form %q", args[2])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(form(rows)), 0o644))
}

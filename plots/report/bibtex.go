package report

import (
	"fmt"
	"regexp"
	"strings"

	"phasetally/xrd/result"
)

// BibTeX returns the references of a document for a bibliography program; what is known as a line of text only becomes a
// note.
func BibTeX(doc result.Document) []byte {
	var b strings.Builder
	for _, r := range doc.References {
		kind, fields := "misc", []pair{{"note", r.Text}}
		if r.Authors != "" {
			kind, fields = "article", []pair{{"author", r.Authors}, {"journal", r.Journal}, {"volume", r.Volume}, {"year", r.Year}, {"pages", r.Pages}}
		}
		fmt.Fprintf(&b, "@%s{%s,\n", kind, notKey.ReplaceAllString(r.Key, "-"))
		for _, f := range append(fields, pair{"annote", r.For}) {
			if f.Value != "" {
				fmt.Fprintf(&b, "  %s = {%s},\n", f.Key, braced.Replace(plain(f.Value)))
			}
		}
		b.WriteString("}\n\n")
	}
	return []byte(b.String())
}

// notKey is what a key cannot hold.
var notKey = regexp.MustCompile(`[^A-Za-z0-9._:-]+`)

// braced keeps signs that mean something to the typesetting program from being obeyed.
var braced = strings.NewReplacer(`\`, `\textbackslash{}`, "{", `\{`, "}", `\}`, "&", `\&`, "%", `\%`, "$", `\$`, "#", `\#`, "_", `\_`, "–", "--")

package listfile

import (
	"strings"

	"phasetally/xrd"
)

// cautionText keeps in one cell what is wrong with the structure that a list was computed from: code, colon, text; one after
// the other with a bar between. Notes, and what was said of converting this list, are left out.
func cautionText(list []xrd.Caution) string {
	var parts []string
	for _, c := range list {
		if c.Severity == xrd.SeverityCaution && strings.HasPrefix(c.Code, structureCode) {
			parts = append(parts, c.Code+": "+strings.Join(strings.Fields(strings.ReplaceAll(c.Text, "|", "/")), " "))
		}
	}
	return strings.Join(parts, " | ")
}

// structureCode begins the codes of cautions about structures.
const structureCode = "structure-"

// cautionsOf reads such a cell. Words that no code begins are a caution of the list's author.
func cautionsOf(cell string) (list []xrd.Caution) {
	for part := range strings.SplitSeq(cell, "|") {
		part = strings.Join(strings.Fields(part), " ")
		if part == "" {
			continue
		}
		code, text, ok := strings.Cut(part, ": ")
		if !ok || !strings.HasPrefix(code, structureCode) || strings.Contains(code, " ") || text == "" {
			code, text = "structure-stated", part
		}
		list = append(list, xrd.Caution{Code: code, Severity: xrd.SeverityCaution, Text: text,
			Remedy: "Mend the structure or the list, and compute the lines again.", Evidence: map[string]any{"from": "list"}})
	}
	return list
}

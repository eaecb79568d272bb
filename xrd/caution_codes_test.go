package xrd_test

import (
	"go/ast"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// DEVELOPERS.md lists every code of a caution that the program can raise, and no other; the table is what users' scripts
// rely on.
func TestCautionCodesAreListed(t *testing.T) {
	guide, err := os.ReadFile("../DEVELOPERS.md")
	require.NoError(t, err)
	listed := map[string]bool{}
	for _, row := range regexp.MustCompile("(?m)^\\| `([a-z0-9-]+)` \\|").FindAllStringSubmatch(string(guide), -1) {
		assert.False(t, listed[row[1]], "%s stands twice in DEVELOPERS.md", row[1])
		listed[row[1]] = true
	}
	raised, named := map[string]string{}, map[string]bool{}
	for _, p := range listPackages(t) {
		if testTools[p.dir()] {
			continue
		}
		for _, name := range p.GoFiles {
			file := parseFile(t, filepath.Join(p.Dir, name), nil)
			for _, code := range cautionCodes(file) {
				raised[code] = p.dir() + "/" + name
			}
			ast.Inspect(file, func(n ast.Node) bool { // a code may also reach a caution through a table or a variable
				if lit, ok := n.(*ast.BasicLit); ok {
					s, _ := text(lit)
					named[s] = true
				}
				return true
			})
		}
	}
	require.Greater(t, len(raised), 20)
	for code, where := range raised {
		assert.True(t, listed[code], "%s (%s) is missing in the table of DEVELOPERS.md", code, where)
	}
	for code := range listed {
		assert.True(t, named[code], "DEVELOPERS.md lists %s, which nothing raises", code)
	}
}

// cautionCodes finds the codes that a file gives to cautions: in a literal with Code and Severity, or as the string
// before a severity in a call.
func cautionCodes(file *ast.File) []string {
	var codes []string
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CompositeLit:
			fields := map[string]ast.Expr{}
			for _, e := range n.Elts {
				if kv, ok := e.(*ast.KeyValueExpr); ok {
					if key, ok := kv.Key.(*ast.Ident); ok {
						fields[key.Name] = kv.Value
					}
				}
			}
			if code, ok := text(fields["Code"]); ok && fields["Severity"] != nil {
				codes = append(codes, code)
			}
		case *ast.CallExpr:
			for i := range n.Args[:max(0, len(n.Args)-1)] {
				if code, ok := text(n.Args[i]); ok && isSeverity(n.Args[i+1]) {
					codes = append(codes, code)
				}
			}
		}
		return true
	})
	return codes
}

func text(e ast.Expr) (string, bool) {
	lit, ok := e.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(lit.Value)
	return s, err == nil
}

func isSeverity(e ast.Expr) bool {
	s, ok := e.(*ast.SelectorExpr)
	return ok && (s.Sel.Name == "SeverityNote" || s.Sel.Name == "SeverityCaution" || s.Sel.Name == "SeverityStop")
}

func TestCautionCodesAreSeen(t *testing.T) {
	file := parseFile(t, "made.go", `package made
var a = xrd.Caution{Code: "in-a-literal", Severity: xrd.SeverityNote}
var b = Reason{Code: "no-caution", Text: "x"}
func f() { add("in-a-call", xrd.SeverityCaution, "text"); s.caution("in-another", xrd.SeverityStop); say("text", "text") }`)
	assert.Equal(t, []string{"in-a-literal", "in-a-call", "in-another"}, cautionCodes(file))
}

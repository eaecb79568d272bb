package identify

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every threshold is a positive number and says what it means, in which unit, and where it comes from.
func TestPolicyIsExplained(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "policy.go", nil, parser.ParseComments)
	require.NoError(t, err)
	documented := map[string]string{}
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.TypeSpec)
		if !ok {
			return true
		}
		for _, f := range spec.Type.(*ast.StructType).Fields.List {
			documented[spec.Name.Name+"."+f.Names[0].Name] = strings.Join(strings.Fields(f.Doc.Text()), " ")
		}
		return false
	})
	groups := reflect.ValueOf(DefaultPolicy())
	count := 0
	for g := range groups.NumField() {
		group := groups.Field(g)
		for k := range group.NumField() {
			f := group.Type().Field(k)
			assert.Regexp(t, `^`+f.Name+`: .+\[.+\]\. Origin: .+\.$`, documented[group.Type().Name()+"."+f.Name])
			v := group.Field(k)
			assert.True(t, v.CanInt() && v.Int() > 0 || v.CanFloat() && v.Float() > 0, "%s.%s = %v", group.Type(), f.Name, v)
			count++
		}
	}
	assert.Greater(t, count, 70)
}

// No threshold is typed into a condition or kept as a constant elsewhere: they are in the policy.
func TestThresholdsAreInThePolicy(t *testing.T) {
	names, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") || name == "policy.go" {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
		assert.Empty(t, numbersCompared(file), name)
	}
}

// numbersCompared returns the numbers of a file that are named as constants, or beside < or > where they have decimals.
func numbersCompared(file *ast.File) (found []string) {
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			if n.Tok == token.CONST {
				found = append(found, numbersIn(n, token.INT)...)
			}
		case *ast.BinaryExpr:
			if n.Op == token.LSS || n.Op == token.GTR || n.Op == token.LEQ || n.Op == token.GEQ {
				found = append(found, numbersIn(n, token.FLOAT)...)
			}
		}
		return true
	})
	return found
}

// numbersIn returns the literals with decimals below a node, and the whole ones, too, when least is token.INT.
func numbersIn(n ast.Node, least token.Token) (found []string) {
	ast.Inspect(n, func(n ast.Node) bool {
		if l, ok := n.(*ast.BasicLit); ok && (l.Kind == token.FLOAT || l.Kind == least) {
			found = append(found, l.Value)
		}
		return true
	})
	return found
}

func TestTypedThresholdsAreSeen(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "made.go", "package made\nconst n = 3\nfunc f(x float64, k int) bool { return x > 0.35 || k < 2 || x*1.5 < 2 }", 0)
	require.NoError(t, err)
	assert.Equal(t, []string{"3", "0.35", "1.5"}, numbersCompared(file))
}

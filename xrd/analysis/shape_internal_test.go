package analysis

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestStructsStaySmall: no struct of the package has more than twelve fields: what grows is taken apart, not carried along.
func TestStructsStaySmall(t *testing.T) {
	const most = 12
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	structs := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
		ast.Inspect(file, func(n ast.Node) bool {
			spec, ok := n.(*ast.TypeSpec)
			if !ok {
				return true
			}
			if s, ok := spec.Type.(*ast.StructType); ok {
				fields := 0
				for _, f := range s.Fields.List {
					fields += max(1, len(f.Names))
				}
				assert.LessOrEqual(t, fields, most, "%s in %s", spec.Name, name)
				structs++
			}
			return true
		})
	}
	assert.Greater(t, structs, 8)
}

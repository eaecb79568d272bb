package result_test

import (
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
)

var update = flag.Bool("update", false, "write KEYS.md anew")

// TestKeysPage: KEYS.md says every key of the documents, with the kind of its value and its meaning, as the code has them. It is made
// anew with go test ./xrd/result -update.
func TestKeysPage(t *testing.T) {
	k := keys{comments: comments(t, ".", "..", "../../refdata")}
	k.printf("# Keys of the JSON documents\n\nMade from the code by `go test ./xrd/result -update`. Keys may be added; none changes its meaning or goes away. Unknown numbers are\n`null`, never 0. Angles are degrees 2θ, lengths Å, areas counts × degrees, unless said otherwise; `u` is a standard uncertainty, `lo95`\nand `hi95` are the ends of a 95 %% interval.\n")
	for _, d := range []struct {
		name, text string
		of         any
	}{
		{"analysis.json", "The result of one scan (`analyse`, `quantify`, `identify --format json`).", result.Document{}},
		{"series.json", "What is tidy of every scan of a series.", result.Series{}},
		{"plan", "What `plan --format json` says before a scan.", result.Plan{}},
	} {
		k.printf("\n## %s\n\n%s\n\n| key | value | meaning |\n|---|---|---|\n", d.name, d.text)
		k.walk(reflect.TypeOf(d.of), "")
	}
	for _, bare := range k.bare {
		t.Errorf("%s has no comment", bare)
	}
	if *update {
		require.NoError(t, os.WriteFile("KEYS.md", []byte(k.String()), 0o644))
	}
	page, err := os.ReadFile("KEYS.md")
	require.NoError(t, err)
	assert.Equal(t, k.String(), string(page), "make the page anew: go test ./xrd/result -update")
}

// keys is the page as it grows.
type keys struct {
	strings.Builder
	comments map[string]string // of package.Type.Field
	bare     []string          // fields without one
}

func (k *keys) printf(format string, a ...any) { fmt.Fprintf(k, format, a...) }

// walk adds a row for every key of a struct, those of structs in it below their own.
func (k *keys) walk(t reflect.Type, above string) {
	for i := range t.NumField() {
		f := t.Field(i)
		tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if f.Anonymous && tag == "" {
			k.walk(f.Type, above)
			continue
		}
		if tag == "-" || !f.IsExported() {
			continue
		}
		name := path.Base(t.PkgPath()) + "." + t.Name() + "." + f.Name
		text := k.comments[name]
		if text == "" {
			k.bare = append(k.bare, name)
		}
		kind, inner := kindOf(f.Type)
		k.printf("| `%s%s` | %s | %s |\n", above, tag, kind, strings.ReplaceAll(text, "|", "\\|"))
		if inner != nil {
			k.walk(inner, above+tag+".")
		}
	}
}

// kindOf names the kind of a value, and the struct that it, or each of its elements, is.
func kindOf(t reflect.Type) (kind string, inner reflect.Type) {
	switch t.Kind() {
	case reflect.Pointer:
		kind, inner = kindOf(t.Elem())
		return kind + " or null", inner
	case reflect.Slice, reflect.Array:
		kind, inner = kindOf(t.Elem())
		return "list of " + kind, inner
	case reflect.Struct:
		if t.PkgPath() == "time" {
			return "time", nil
		}
		return "object", t
	case reflect.String:
		return "text", nil
	case reflect.Bool:
		return "yes or no", nil
	case reflect.Map, reflect.Interface:
		return "object", nil
	}
	return "number", nil
}

// comments reads those of the fields of all structs of some packages.
func comments(t *testing.T, dirs ...string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, dir := range dirs {
		names, err := filepath.Glob(filepath.Join(dir, "*.go"))
		require.NoError(t, err)
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
			require.NoError(t, err)
			ast.Inspect(file, func(n ast.Node) bool {
				spec, ok := n.(*ast.TypeSpec)
				if !ok {
					return true
				}
				if s, ok := spec.Type.(*ast.StructType); ok {
					for _, f := range s.Fields.List {
						for _, id := range f.Names {
							out[file.Name.Name+"."+spec.Name.Name+"."+id.Name] = strings.Join(strings.Fields(f.Doc.Text()+" "+f.Comment.Text()), " ")
						}
					}
				}
				return false
			})
		}
	}
	return out
}

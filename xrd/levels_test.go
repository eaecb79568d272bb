package xrd_test

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// levels is the map of the house: a package may import only packages of lower levels.
var levels = map[string]int{
	"xrd": 0, "xrd/leastsq": 0, "xrd/cif": 0, "refdata/element": 0,
	"refdata": 1, "peaks": 1, "xrd/scanfile": 1,
	"xrd/result": 2, "refdata/structure": 2, "refdata/listfile": 2, "xrd/pattern": 2, "xrd/screen": 2,
	"refdata/library": 3, "xrd/identify": 3, "xrd/quantify": 3, "xrd/calibrate": 3,
	"xrd/diagnose": 4, "xrd/simulate": 4, "xrd/plan": 5,
	"xrd/analysis": 5,
	"xrd/series":   6, "xrd/session": 6,
	"plots": 7, "xrd/resultfile": 7,
	"plots/report":   8,
	"plots/page":     9,
	"cmd/phasetally": 10,
}

// within are pairs of one level whose order the map fixes: the vocabulary of package xrd serves its level-0 neighbours, and the
// verdicts of package result are what pattern says of lines.
var within = map[[2]string]bool{{"xrd/cif", "xrd"}: true, {"xrd/pattern", "xrd/result"}: true}

// engine are the packages that find answers. What shows or keeps an answer reads it from xrd/result instead.
var engine = map[string]bool{"xrd/identify": true, "xrd/quantify": true, "xrd/analysis": true, "xrd/screen": true, "xrd/diagnose": true, "xrd/series": true, "xrd/calibrate": true}

// showing are the packages that must not import the engine.
var showing = map[string]bool{"plots": true, "plots/report": true, "plots/page": true}

// testTools serve tests only; no program code may import them.
var testTools = map[string]bool{"xrd/xrdtest": true, "xrd/resultfile/resulttest": true, "plots/browsertest": true}

// topLevel are the entries of the project's root; dot-files are free, and so is what version control leaves out.
var topLevel = map[string]bool{"cmd": true, "xrd": true, "peaks": true, "refdata": true, "plots": true, "testdata": true,
	"go.mod": true, "go.sum": true, "README.md": true, "DEVELOPERS.md": true, "LICENSE": true}

const (
	module      = "phasetally"
	firstWithIO = 7 // packages below know neither files nor the clock
)

// A goPackage is what this test needs of the output of go list.
type goPackage struct {
	ImportPath, Dir string
	Imports         []string
	GoFiles         []string
	TestGoFiles     []string
	XTestGoFiles    []string
}

// dir is the package's path inside the project.
func (p goPackage) dir() string { return strings.TrimPrefix(p.ImportPath, module+"/") }

func listPackages(t *testing.T) []goPackage {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,Imports,GoFiles,TestGoFiles,XTestGoFiles", "./...")
	cmd.Dir = ".."
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	require.NoError(t, err)
	var all []goPackage
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p goPackage
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err)
		}
		all = append(all, p)
	}
	require.Greater(t, len(all), 10, "go list found too few packages to judge")
	return all
}

func TestImportsGoDownTheLevels(t *testing.T) {
	for _, p := range listPackages(t) {
		assert.Empty(t, importFaults(p), p.dir())
	}
}

// importFaults lists what the imports of a package break.
func importFaults(p goPackage) []string {
	if testTools[p.dir()] {
		return nil
	}
	level, known := levels[p.dir()]
	if !known {
		return []string{"the map of levels does not have it"}
	}
	var faults []string
	for _, path := range p.Imports {
		if other, ours := strings.CutPrefix(path, module+"/"); ours {
			lower, known := levels[other]
			if !known || lower >= level && !within[[2]string{p.dir(), other}] || showing[p.dir()] && engine[other] {
				faults = append(faults, "must not import "+other)
			}
			continue
		}
		if outside(level, p.dir(), path) {
			faults = append(faults, "must not import "+path)
		}
	}
	return faults
}

// outside tells whether a package of the world is out of place in one of ours: no arithmetic in commands, no files below
// level 7 except where collections lie on disk. Time as a value is allowed (see TestNoClockBelowTheEdge).
func outside(level int, dir, path string) bool {
	root, _, _ := strings.Cut(path, "/")
	switch {
	case strings.HasPrefix(dir, "cmd/"):
		return root == "math" || strings.HasPrefix(path, "gonum.org/")
	case level < firstWithIO && dir != "refdata/library":
		return root == "os" || path == "syscall" || path == "log"
	}
	return false
}

func TestImportFaultsAreSeen(t *testing.T) {
	for _, c := range []struct {
		name, dir, imported string
		fault               bool
	}{
		{"downwards", "peaks", "phasetally/xrd", false},
		{"upwards", "peaks", "phasetally/xrd/pattern", true},
		{"sideways", "xrd/identify", "phasetally/xrd/quantify", true},
		{"the one pair of level 0", "xrd/cif", "phasetally/xrd", false},
		{"its reverse", "xrd", "phasetally/xrd/cif", true},
		{"a package that is not on the map", "xrd/elsewhere", "strings", true},
		{"test tools in the program", "plots", "phasetally/xrd/xrdtest", true},
		{"arithmetic in a command", "cmd/phasetally", "math", true},
		{"linear algebra in a command", "cmd/phasetally", "gonum.org/v1/gonum/mat", true},
		{"files in physics", "xrd/pattern", "os", true},
		{"files where collections lie", "refdata/library", "os", false},
		{"files at the edge", "xrd/resultfile", "os", false},
	} {
		p := goPackage{ImportPath: module + "/" + c.dir, Imports: []string{c.imported}}
		assert.Equal(t, c.fault, len(importFaults(p)) > 0, c.name)
	}
}

// seeded are the names of math/rand/v2 that do not touch the random numbers that the whole process shares.
var seeded = map[string]bool{"New": true, "NewPCG": true, "NewChaCha8": true, "NewZipf": true,
	"Rand": true, "Source": true, "PCG": true, "ChaCha8": true, "Zipf": true}

// asValue are the names of package time that do not read a clock.
var asValue = map[string]bool{"Time": true, "Duration": true, "Parse": true, "Date": true, "RFC3339": true, "DateOnly": true}

func TestRandomNumbersAreSeededEverywhere(t *testing.T) {
	for _, p := range listPackages(t) {
		for _, name := range append(append(p.GoFiles, p.TestGoFiles...), p.XTestGoFiles...) {
			file := parseFile(t, filepath.Join(p.Dir, name), nil)
			assert.NotContains(t, importNames(file), "math/rand", "%s/%s: use math/rand/v2 with a fixed seed", p.dir(), name)
			assert.Empty(t, namesBeside(file, "math/rand/v2", seeded), "%s/%s", p.dir(), name)
		}
	}
}

func TestNoClockBelowTheEdge(t *testing.T) {
	for _, p := range listPackages(t) {
		if level, known := levels[p.dir()]; !known || level >= firstWithIO || p.dir() == "refdata/library" {
			continue
		}
		for _, name := range p.GoFiles {
			assert.Empty(t, namesBeside(parseFile(t, filepath.Join(p.Dir, name), nil), "time", asValue), "%s/%s", p.dir(), name)
		}
	}
}

func TestForbiddenNamesAreSeen(t *testing.T) {
	file := parseFile(t, "made.go", `package made
import ("time"; dice "math/rand/v2")
var a, b = dice.IntN(6), dice.New(dice.NewPCG(1, 2))
var c time.Time = time.Now()`)
	assert.Equal(t, []string{"IntN"}, namesBeside(file, "math/rand/v2", seeded))
	assert.Equal(t, []string{"Now"}, namesBeside(file, "time", asValue))
	assert.Empty(t, namesBeside(file, "os", nil))
}

func parseFile(t *testing.T, name string, src any) *ast.File {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), name, src, 0)
	require.NoError(t, err)
	return file
}

// importNames maps the paths that a file imports to the names it uses for them.
func importNames(file *ast.File) map[string]string {
	names := map[string]string{}
	for _, spec := range file.Imports {
		path, _ := strconv.Unquote(spec.Path.Value)
		name := strings.TrimSuffix(path, "/v2")
		name = name[strings.LastIndexByte(name, '/')+1:]
		if spec.Name != nil {
			name = spec.Name.Name
		}
		names[path] = name
	}
	return names
}

// namesBeside lists the names of an imported package that a file uses and that are not among the allowed ones.
func namesBeside(file *ast.File, path string, allowed map[string]bool) []string {
	name, imported := importNames(file)[path]
	if !imported {
		return nil
	}
	var found []string
	ast.Inspect(file, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok && !allowed[s.Sel.Name] {
			if x, ok := s.X.(*ast.Ident); ok && x.Name == name {
				found = append(found, s.Sel.Name)
			}
		}
		return true
	})
	return found
}

func TestRootHoldsNothingElse(t *testing.T) {
	entries, err := fs.ReadDir(os.DirFS(".."), ".")
	require.NoError(t, err)
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") || topLevel[e.Name()] || ignored(t, e.Name()) {
			continue
		}
		assert.Fail(t, "the project's root has an entry that the map does not name", e.Name())
	}
	for name := range topLevel {
		_, err := os.Stat(filepath.Join("..", name))
		assert.NoError(t, err)
	}
}

// ignored asks version control, where there is one, whether an entry is only a build product.
func ignored(t *testing.T, name string) bool {
	t.Helper()
	cmd := exec.Command("git", "check-ignore", "-q", name)
	cmd.Dir = ".."
	return cmd.Run() == nil
}

// Every exported name of the packages that others may import, fields of structs with them, has a comment.
func TestExportedNamesAreDocumented(t *testing.T) {
	for _, p := range listPackages(t) {
		if strings.HasPrefix(p.dir(), "cmd/") {
			continue
		}
		documented := false
		for _, name := range p.GoFiles {
			file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil, parser.ParseComments)
			require.NoError(t, err)
			documented = documented || file.Doc != nil
			assert.Empty(t, undocumented(file), "%s/%s", p.dir(), name)
		}
		assert.True(t, documented, "%s has no package comment", p.dir())
	}
}

// undocumented lists the exported names of a file without a comment; a group's comment serves all of it.
func undocumented(file *ast.File) []string {
	var bare []string
	for _, d := range file.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			if d.Name.IsExported() && d.Doc == nil && exportedReceiver(d) {
				bare = append(bare, d.Name.Name)
			}
		case *ast.GenDecl:
			for _, spec := range d.Specs {
				switch s := spec.(type) {
				case *ast.TypeSpec:
					if s.Name.IsExported() && d.Doc == nil && s.Doc == nil {
						bare = append(bare, s.Name.Name)
					}
					bare = append(bare, undocumentedFields(s)...)
				case *ast.ValueSpec:
					if s.Names[0].IsExported() && d.Doc == nil && s.Doc == nil && s.Comment == nil {
						bare = append(bare, s.Names[0].Name)
					}
				}
			}
		}
	}
	return bare
}

// undocumentedFields lists the exported fields of an exported struct without a comment; that of the struct serves fields of one line.
func undocumentedFields(s *ast.TypeSpec) (bare []string) {
	t, ok := s.Type.(*ast.StructType)
	if !ok || !s.Name.IsExported() || len(t.Fields.List) < 2 {
		return nil
	}
	for _, f := range t.Fields.List {
		for _, name := range f.Names {
			if name.IsExported() && f.Doc == nil && f.Comment == nil {
				bare = append(bare, s.Name.Name+"."+name.Name)
			}
		}
	}
	return bare
}

// exportedReceiver tells whether a function, or the type it is a method of, can be seen from outside.
func exportedReceiver(f *ast.FuncDecl) bool {
	if f.Recv == nil {
		return true
	}
	t := f.Recv.List[0].Type
	if star, ok := t.(*ast.StarExpr); ok {
		t = star.X
	}
	if generic, ok := t.(*ast.IndexExpr); ok {
		t = generic.X
	}
	name, ok := t.(*ast.Ident)
	return ok && name.IsExported()
}

func TestMissingCommentsAreSeen(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "made.go", `package made
// A has a comment.
type A struct{}
type B struct{}
func (A) Bare() {}
func (b) Hidden() {}
func private() {}
// The group's comment.
const ( C = 1; D = 2 )
var E = 3
// F has a comment.
type F struct {
	X int // has one
	// Y has one, too.
	Y int
	Z, z int
}
// G says all of its fields.
type G struct { A, B int }
`, parser.ParseComments)
	require.NoError(t, err)
	assert.Equal(t, []string{"B", "Bare", "E", "F.Z"}, undocumented(file))
}

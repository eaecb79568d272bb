// Upward counts, for every package, the calls between its files that go up: files are put in the order in which most calls go down,
// from what is asked first to what it rests on, and a call of a function or method in a file above is one up. Each pair of caller and
// callee counts once. It fails when a package has more than the number allowed.
//
//	go run .ci/upward.go [-most 5] [-v] [package…]
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"log"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// listed is what we read of go list.
type listed struct {
	ImportPath, Dir, Export string
	GoFiles                 []string
	DepOnly                 bool
}

// call is a pair of functions in different files.
type call struct{ from, to, caller, callee string }

func main() {
	log.SetFlags(0)
	most := flag.Int("most", 5, "calls up that a package may have")
	verbose := flag.Bool("v", false, "name each call up")
	flag.Parse()
	patterns := flag.Args()
	if len(patterns) == 0 {
		patterns = []string{"./..."}
	}
	all, err := list(patterns)
	if err != nil {
		log.Fatal(err)
	}
	exports := map[string]string{}
	for _, p := range all {
		exports[p.ImportPath] = p.Export
	}
	failed := false
	for _, p := range all {
		if p.DepOnly {
			continue
		}
		calls, err := callsOf(p, exports)
		if err != nil {
			log.Fatal(err)
		}
		files, up := ordered(calls)
		if len(up) > *most {
			failed = true
		}
		if len(up) > 0 {
			fmt.Printf("%3d  %s\n", len(up), p.ImportPath)
		}
		if *verbose || len(up) > *most {
			fmt.Println("     order:", strings.Join(files, " "))
			for _, c := range up {
				fmt.Printf("     %s %s → %s %s\n", c.from, c.caller, c.to, c.callee)
			}
		}
	}
	if failed {
		fmt.Printf("a package has more than %d calls up\n", *most)
		os.Exit(1)
	}
}

func list(patterns []string) (all []listed, err error) {
	cmd := exec.Command("go", append([]string{"list", "-export", "-deps", "-json=ImportPath,Dir,Export,GoFiles,DepOnly"}, patterns...)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return nil, err
	}
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return all, nil
		} else if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
}

// callsOf finds the calls between files of a package, by its types.
func callsOf(p listed, exports map[string]string) ([]call, error) {
	fset := token.NewFileSet()
	var files []*ast.File
	for _, name := range p.GoFiles {
		f, err := parser.ParseFile(fset, filepath.Join(p.Dir, name), nil, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	lookup := func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) }
	info := types.Info{Uses: map[*ast.Ident]types.Object{}}
	config := types.Config{Importer: importer.ForCompiler(fset, "gc", lookup)}
	pkg, err := config.Check(p.ImportPath, fset, files, &info)
	if err != nil {
		return nil, err
	}
	seen := map[call]bool{}
	for _, f := range files {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			ast.Inspect(fn, func(n ast.Node) bool {
				id, ok := n.(*ast.Ident)
				if !ok {
					return true
				}
				used, ok := info.Uses[id].(*types.Func)
				if !ok || used.Pkg() != pkg {
					return true
				}
				used = used.Origin()
				from, to := filepath.Base(fset.Position(fn.Pos()).Filename), filepath.Base(fset.Position(used.Pos()).Filename)
				if from != to {
					seen[call{from, to, fn.Name.Name, used.Name()}] = true
				}
				return true
			})
		}
	}
	calls := make([]call, 0, len(seen))
	for c := range seen {
		calls = append(calls, c)
	}
	slices.SortFunc(calls, func(a, b call) int { return strings.Compare(fmt.Sprint(a), fmt.Sprint(b)) })
	return calls, nil
}

// ordered returns the files in an order in which few calls go up, and those: from many beginnings, files are moved one by one to their
// best place until none can be bettered. The beginnings are drawn with a fixed seed.
func ordered(calls []call) (files []string, up []call) {
	place := map[string]int{}
	for _, c := range calls {
		for _, f := range []string{c.from, c.to} {
			if _, ok := place[f]; !ok {
				place[f] = len(files)
				files = append(files, f)
			}
		}
	}
	n := len(files)
	count := make([][]int, n) // calls of file b in file a
	for i := range count {
		count[i] = make([]int, n)
	}
	for _, c := range calls {
		count[place[c.from]][place[c.to]]++
	}
	rnd := rand.New(rand.NewPCG(1, 1))
	var best []int
	least := len(calls) + 1
	for range 300 {
		order := rnd.Perm(n)
		for settle(order, count) {
		}
		if u := upIn(order, count); u < least {
			best, least = order, u
		}
	}
	rank := make([]int, n)
	names := make([]string, n)
	for at, f := range best {
		rank[f], names[at] = at, files[f]
	}
	for _, c := range calls {
		if rank[place[c.to]] < rank[place[c.from]] {
			up = append(up, c)
		}
	}
	return names, up
}

// settle moves every file to where fewest calls go up, and reports whether that made them fewer.
func settle(order []int, count [][]int) bool {
	better := false
	for f := range count {
		at := slices.Index(order, f)
		best, gain, sum := at, 0, 0
		for k := at - 1; k >= 0; k-- { // moved up past g, calls of f in g turn up and those of g in f turn down
			g := order[k]
			if sum += count[g][f] - count[f][g]; -sum > gain {
				best, gain = k, -sum
			}
		}
		sum = 0
		for k := at + 1; k < len(order); k++ {
			g := order[k]
			if sum += count[f][g] - count[g][f]; -sum > gain {
				best, gain = k, -sum
			}
		}
		if gain > 0 {
			better = true
			copy(order[at:], order[at+1:])
			copy(order[best+1:], order[best:len(order)-1])
			order[best] = f
		}
	}
	return better
}

func upIn(order []int, count [][]int) (sum int) {
	for i, a := range order {
		for _, b := range order[:i] {
			sum += count[a][b]
		}
	}
	return sum
}

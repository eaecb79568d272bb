package plots

import (
	"cmp"
	"maps"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"
)

// Render writes every figure in all three formats, in parallel, and returns the bytes by file name: a figure under the
// name "pattern" gives pattern.svg, pattern.pdf and pattern.png.
func Render(figures map[string]*Figure) (map[string][]byte, error) {
	type job struct {
		name  string
		write func() ([]byte, error)
		cost  int
	}
	var jobs []job
	for _, name := range slices.Sorted(maps.Keys(figures)) {
		f := figures[name]
		jobs = append(jobs, job{name + ".png", f.PNG, 3}, job{name + ".pdf", f.PDF, 2}, job{name + ".svg", f.SVG, 1})
	}
	slices.SortStableFunc(jobs, func(a, b job) int { return cmp.Compare(b.cost, a.cost) }) // long ones first
	out := make([][]byte, len(jobs))
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i, j := range jobs {
		g.Go(func() (err error) {
			out[i], err = j.write()
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	files := make(map[string][]byte, len(jobs))
	for i, j := range jobs {
		files[j.name] = out[i]
	}
	return files, nil
}

package leastsq

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// cores returns how many cores can share a number of parts.
func cores(parts int) int { return max(1, min(runtime.GOMAXPROCS(0), parts)) }

// share calls work once for every part, on the given number of cores; work is told which core it runs on. A panic of one
// is that of the caller.
func share(cores, parts int, work func(core, part int)) {
	if cores < 2 || parts < 2 {
		for part := range parts {
			work(0, part)
		}
		return
	}
	var next atomic.Int64
	var failure atomic.Pointer[any]
	run := func(core int) {
		defer func() {
			if p := recover(); p != nil {
				failure.Store(&p)
			}
		}()
		for part := int(next.Add(1)) - 1; part < parts; part = int(next.Add(1)) - 1 {
			work(core, part)
		}
	}
	var others sync.WaitGroup
	for core := 1; core < cores; core++ {
		others.Go(func() { run(core) })
	}
	run(0)
	others.Wait()
	if p := failure.Load(); p != nil {
		panic(*p)
	}
}

// sized returns n numbers, any of which may have been used before, in the memory of s if that is enough.
func sized(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}

package inventory

import (
	"context"
	"runtime"

	"golang.org/x/sync/errgroup"
)

// InOrder runs work on what produce yields, on all processors, and hands the
// results to consume in the order of their making, on the caller's goroutine.
// At most a few pages for each processor are in memory.
func InOrder[P, R any](ctx context.Context, produce func(context.Context, func(P) error) error, work func(P) R, consume func(R) error) error {
	type job struct {
		page P
		done chan R
	}
	processors := runtime.GOMAXPROCS(0)
	jobs, waiting := make(chan job), make(chan chan R, 2*processors)
	ctx, cancel := context.WithCancel(ctx)
	g, gctx := errgroup.WithContext(ctx)
	g.Go(func() error {
		defer close(jobs)
		defer close(waiting)
		return produce(gctx, func(page P) error {
			j := job{page, make(chan R, 1)}
			select {
			case waiting <- j.done:
			case <-gctx.Done():
				return gctx.Err()
			}
			select {
			case jobs <- j:
				return nil
			case <-gctx.Done():
				close(j.done)
				return gctx.Err()
			}
		})
	})
	for range processors {
		g.Go(func() error {
			for j := range jobs {
				j.done <- work(j.page)
			}
			return nil
		})
	}
	var failed error
	for done := range waiting {
		r, ok := <-done
		if failed == nil && ok {
			if failed = consume(r); failed != nil {
				cancel()
			}
		}
	}
	err := g.Wait()
	cancel()
	if failed != nil {
		return failed
	}
	return err
}

package main

import (
	"iter"
	"runtime"
	"sync"
)

// inOrder gives do(item) for each item, in the order of the items, with as many
// at work as there are processors. Only a few are held at a time, so a long
// sequence needs no more memory than a short one.
func inOrder[A, B any](items iter.Seq[A], do func(A) B) iter.Seq[B] {
	return func(yield func(B) bool) {
		type job struct {
			item A
			done chan B
		}
		workers := runtime.GOMAXPROCS(0)
		work := make(chan job)
		queue := make(chan chan B, 4*workers) // the answers to come, in order
		stop := make(chan struct{})
		var group sync.WaitGroup
		defer group.Wait()
		for range workers {
			group.Go(func() {
				for j := range work {
					j.done <- do(j.item)
				}
			})
		}
		group.Go(func() {
			defer close(queue)
			defer close(work)
			for item := range items {
				j := job{item, make(chan B, 1)} // room for the answer: no worker waits for its reader
				select {
				case queue <- j.done:
					work <- j
				case <-stop:
					return
				}
			}
		})
		for done := range queue {
			if !yield(<-done) {
				close(stop)
				return
			}
		}
	}
}

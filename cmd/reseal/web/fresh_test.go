package web

import (
	"context"
	"testing"
)

// TestForgottenWhileAwaited: who waits for a value that is forgotten as soon as it
// is there gets one all the same. Without that a few of these many get none.
func TestForgottenWhileAwaited(t *testing.T) {
	t.Parallel()
	s, _ := serveSample(t)
	for range 2000 {
		began, proceed := make(chan struct{}, 2), make(chan struct{})
		f := fresh[*int]{make: func(context.Context) (*int, error) {
			began <- struct{}{}
			<-proceed
			return new(int), nil
		}}
		answer := make(chan *int)
		go func() {
			v, _, err := f.get(t.Context(), s)
			if err != nil {
				t.Error(err)
			}
			answer <- v
		}()
		<-began
		f.mu.Lock()
		making := f.making
		f.mu.Unlock()
		go func() {
			<-making
			f.forget()
		}()
		close(proceed)
		if <-answer == nil {
			t.Fatal("got no value and no error")
		}
	}
}

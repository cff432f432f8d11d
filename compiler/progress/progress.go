// Package progress lets a stage that may take seconds say what it does to
// whoever waits for it. It is a leaf: nothing is printed here, and what a stage
// says never changes what it makes.
package progress

import "context"

type key struct{}

// With is a context in which Say calls say, from any goroutine.
func With(ctx context.Context, say func(stage string)) context.Context {
	return context.WithValue(ctx, key{}, say)
}

// Say tells what is done from now on, in words that go on from "compiling x: ".
func Say(ctx context.Context, stage string) {
	if say, ok := ctx.Value(key{}).(func(string)); ok {
		say(stage)
	}
}

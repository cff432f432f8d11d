package main

import (
	"context"
	"os"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"bandwright/compiler/progress"
)

// patience is how long a user waits before anything is said.
const patience = time.Second

// progressWidth (characters) keeps the line from wrapping, for a line that wraps
// cannot be wiped.
const progressWidth = 79

// progressLine says on a terminal what takes longer than patience, and what is
// done at the moment.
type progressLine struct {
	terminal *os.File // nil where there is none
	mu       sync.Mutex
	what, at string
	shown    int // characters on the line
	due      bool
	timer    *time.Timer
}

// startProgress begins a line; stop ends it.
func startProgress(terminal *os.File, what string) *progressLine {
	p := &progressLine{what: what}
	info, err := terminal.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return p
	}
	p.terminal = terminal
	p.timer = time.AfterFunc(patience, func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		if p.terminal != nil {
			p.due = true
			p.draw()
		}
	})
	return p
}

// in is a context in which stages of the compiler say what they do. of, unless
// "", is the file that they do it for.
func (p *progressLine) in(ctx context.Context, of string) context.Context {
	if p.terminal == nil {
		return ctx
	}
	return progress.With(ctx, func(stage string) {
		if of != "" {
			stage = of + ": " + stage
		}
		p.set(func() { p.at = stage })
	})
}

// head sets what the line says in front of the stage.
func (p *progressLine) head(what string) { p.set(func() { p.what = what }) }

func (p *progressLine) set(change func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	change()
	if p.due {
		p.draw()
	}
}

// draw writes the line over the one before it.
func (p *progressLine) draw() {
	text := p.what
	if p.at != "" {
		text += ": " + p.at
	}
	text += " ..."
	if r := []rune(text); len(r) > progressWidth {
		text = string(r[:progressWidth-4]) + " ..."
	}
	n := utf8.RuneCountInString(text)
	p.clear()
	p.terminal.WriteString(text)
	p.shown = n
}

// aside wipes the line while f prints.
func (p *progressLine) aside(f func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.clear()
	f()
	if p.due {
		p.draw()
	}
}

func (p *progressLine) clear() {
	if p.shown > 0 {
		p.terminal.WriteString("\r" + strings.Repeat(" ", p.shown) + "\r")
		p.shown = 0
	}
}

// stop wipes the line for good. It may be called twice.
func (p *progressLine) stop() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.terminal != nil {
		p.timer.Stop()
		p.clear()
		p.terminal, p.due = nil, false
	}
}

package main

import (
	"os"
	"strings"
	"sync"
	"time"
	"unicode/utf8"
)

// patience is how long a user waits before anything is said.
const patience = time.Second

// progress says on a terminal what takes longer than patience, and wipes it
// when stop is called. stop may be called twice.
func progress(terminal *os.File, what string) (stop func()) {
	info, err := terminal.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return func() {}
	}
	text := what + " ..."
	var mu sync.Mutex
	said, over := false, false
	timer := time.AfterFunc(patience, func() {
		mu.Lock()
		defer mu.Unlock()
		if !over {
			said = true
			terminal.WriteString(text)
		}
	})
	return func() {
		mu.Lock()
		defer mu.Unlock()
		timer.Stop()
		if said && !over {
			terminal.WriteString("\r" + strings.Repeat(" ", utf8.RuneCountInString(text)) + "\r")
		}
		over = true
	}
}

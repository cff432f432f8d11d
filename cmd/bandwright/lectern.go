package main

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"bandwright/compiler"
)

// lectern shows the last good report to browsers on this machine, and what is wrong with the spec since. It reads no
// file: all it can show is in its memory.
type lectern struct {
	host string // of the listener: "127.0.0.1:40123"

	mutex sync.Mutex
	page  string // the last good report, "" before the first
	state lecternState
	news  chan struct{} // closed when the state changes
	open  int           // how many pages listen
	came  chan struct{} // closed when another one does

	patience time.Duration // how long a page is waited for
}

// turnedWithin is how long what else is made waits for a page to be turned over, at most.
const turnedWithin = 300 * time.Millisecond

// lecternState is what a page is told.
type lecternState struct {
	Built  int      `json:"built"`  // how many reports there were
	Faults []string `json:"faults"` // why there is no newer one
}

// newLectern listens on the loopback at a port of the system's choice, until ctx ends.
func newLectern(ctx context.Context) (*lectern, error) {
	l, err := new(net.ListenConfig).Listen(ctx, "tcp4", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	d := &lectern{host: l.Addr().String(), news: make(chan struct{}), came: make(chan struct{}), patience: turnedWithin}
	server := &http.Server{Handler: d, ReadHeaderTimeout: 5 * time.Second, MaxHeaderBytes: 1 << 14, BaseContext: func(net.Listener) context.Context { return ctx }}
	go server.Serve(l)
	go func() {
		<-ctx.Done()
		server.Close()
	}()
	return d, nil
}

func (d *lectern) url() string { return "http://" + d.host + "/" }

// show takes a report, where there is a newer one, and faults. Where a page listens it waits until
// one has come back for what is new, so that the browser has the processors meanwhile.
func (d *lectern) show(files []compiler.File, faults []string) {
	came := d.take(files, faults)
	if came == nil {
		return
	}
	select {
	case <-came:
	case <-time.After(d.patience):
	}
}

// take is show without waiting; what is closed when a page has come back, nil where none is to.
func (d *lectern) take(files []compiler.File, faults []string) <-chan struct{} {
	d.mutex.Lock()
	defer d.mutex.Unlock()
	var came <-chan struct{}
	for _, f := range files {
		if f.Name == "report.html" {
			d.page = string(f.Data)
			d.state.Built++
			if d.open > 0 {
				came = d.came
			}
		}
	}
	d.state.Faults = append([]string{}, faults...)
	close(d.news)
	d.news = make(chan struct{})
	return came
}

// listens counts a page that listens until it is told that it does no more.
func (d *lectern) listens() (noMore func()) {
	d.mutex.Lock()
	defer d.mutex.Unlock()
	d.open++
	close(d.came)
	d.came = make(chan struct{})
	return func() {
		d.mutex.Lock()
		defer d.mutex.Unlock()
		d.open--
	}
}

// now is the state, and what is closed when it changes.
func (d *lectern) now() (lecternState, string, <-chan struct{}) {
	d.mutex.Lock()
	defer d.mutex.Unlock()
	return d.state, d.page, d.news
}

// refuse says why a request is not answered; "" for one that is. A page of somebody else's must not read the
// report through this machine: neither by a name of its own that it points here (Host), nor from its scripts.
func (d *lectern) refuse(r *http.Request) (code int, why string) {
	switch {
	case r.Method != http.MethodGet && r.Method != http.MethodHead:
		return http.StatusMethodNotAllowed, "it is only read from"
	case r.Host != d.host && r.Host != strings.Replace(d.host, "127.0.0.1", "localhost", 1):
		return http.StatusForbidden, "it answers to its own name only"
	case len(r.Header.Values("Origin")) > 0 && r.Header.Get("Origin") != "http://"+r.Host:
		return http.StatusForbidden, "it answers to its own pages only"
	case r.Header.Get("Sec-Fetch-Site") == "cross-site" || r.Header.Get("Sec-Fetch-Site") == "same-site":
		return http.StatusForbidden, "it answers to its own pages only"
	case r.URL.RawQuery != "" || r.URL.Path != "/" && r.URL.Path != "/changes":
		return http.StatusNotFound, "there is / and nothing else"
	}
	return 0, ""
}

//go:embed live.js
var live string

// ServeHTTP shows the page, or tells what changes.
func (d *lectern) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	for name, value := range map[string]string{
		"Content-Security-Policy":      "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
		"X-Content-Type-Options":       "nosniff",
		"Cross-Origin-Resource-Policy": "same-origin",
		"Cross-Origin-Opener-Policy":   "same-origin",
		"Referrer-Policy":              "no-referrer",
		"Cache-Control":                "no-store",
	} {
		h.Set(name, value)
	}
	if code, why := d.refuse(r); why != "" {
		http.Error(w, why, code)
		return
	}
	if r.URL.Path == "/changes" {
		d.tell(w, r)
		return
	}
	h.Set("Content-Type", "text/html; charset=utf-8")
	state, page, _ := d.now()
	if page == "" {
		page = "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>No report yet</title></head><body><main><h1>No report yet</h1></main></body></html>\n"
	}
	number := fmt.Sprintf("<script data-built=\"%d\">%s</script>\n</body>", state.Built, live)
	if i := strings.LastIndex(page, "</body>"); i >= 0 {
		page = page[:i] + number + page[i+len("</body>"):]
	}
	_, _ = w.Write([]byte(page)) // a browser that went away misses nothing
}

// tell streams the state, now and at every change.
func (d *lectern) tell(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/event-stream")
	out := http.NewResponseController(w)
	defer d.listens()()
	for {
		state, _, news := d.now()
		text, err := json.Marshal(state)
		if err != nil {
			return
		}
		if _, err := fmt.Fprintf(w, "data: %s\n\n", text); err != nil || out.Flush() != nil {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case <-news:
		}
	}
}

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"bandwright/compiler"
)

// watching is the program as it watches a spec.
type watching struct {
	*exec.Cmd
	dir   string
	mutex sync.Mutex
	said  bytes.Buffer
}

func (w *watching) Write(p []byte) (int, error) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	return w.said.Write(p)
}

// heard waits until the program has said a text so often.
func (w *watching) heard(t *testing.T, text string, times int) string {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		w.mutex.Lock()
		said := w.said.String()
		w.mutex.Unlock()
		if strings.Count(said, text) >= times {
			return said
		}
	}
	t.Fatalf("%q was not said %d times:\n%s", text, times, w.said.String())
	return ""
}

// watched starts the program on wren.yaml.
func watched(t *testing.T, flag string) *watching {
	t.Helper()
	w := &watching{dir: t.TempDir()}
	put(t, filepath.Join(w.dir, "wren.yaml"), small("wren", loose, "float32"))
	w.Cmd = exec.Command(binary, "compile", "wren.yaml", "-o", "out", flag)
	w.Dir, w.Stdout, w.Stderr = w.dir, w, w
	if err := w.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = w.Process.Signal(os.Interrupt)
		if err := w.Wait(); err != nil {
			t.Errorf("an interruption is the good end of a watch: %v", err)
		}
	})
	return w
}

// A save is compiled, a mistake leaves the last good output, and the save that mends it is taken up.
func TestWatch(t *testing.T) {
	w := watched(t, "--watch")
	w.heard(t, "watching wren.yaml", 1)
	first := tree(t, filepath.Join(w.dir, "out"))
	put(t, filepath.Join(w.dir, "wren.yaml"), small("wren", loose, "float32")+"\nnonsense: 3\n")
	w.heard(t, "nonsense", 1)
	w.heard(t, "watching wren.yaml", 2)
	same(t, "a mistake", filepath.Join(w.dir, "out"), first)
	put(t, filepath.Join(w.dir, "wren.yaml"), small("wren", loose, "float64"))
	w.heard(t, "watching wren.yaml", 3)
	if got := tree(t, filepath.Join(w.dir, "out")); got["wren_float64.h"] == "" || got["wren_float32.h"] != "" {
		t.Errorf("%v", names(got))
	}
}

var address = regexp.MustCompile(`http://(127\.0\.0\.1:\d+)/`)

// ask sends a request as it is written and returns what comes back.
func ask(t *testing.T, host, request string) string {
	t.Helper()
	c, err := net.Dial("tcp", host)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := c.SetDeadline(time.Now().Add(10 * time.Second)); err != nil {
		t.Fatal(err)
	}
	fmt.Fprint(c, strings.ReplaceAll(request, "\n", "\r\n"))
	text, _ := io.ReadAll(c)
	return string(text)
}

// The server answers its own page on this machine, and nobody and nothing else.
func TestServe(t *testing.T) {
	w := watched(t, "--serve")
	host := address.FindStringSubmatch(w.heard(t, "watching wren.yaml", 1))[1]
	_, port, _ := net.SplitHostPort(host)
	get := func(path, headers string) string {
		return fmt.Sprintf("GET %s HTTP/1.1\nConnection: close\n%s\n", path, headers)
	}
	ours := "Host: " + host + "\n"
	for _, c := range []struct{ what, request, status string }{
		{"the page", get("/", ours), "200 OK"},
		{"as localhost", get("/", "Host: localhost:"+port+"\n"), "200 OK"},
		{"its own script", get("/", ours+"Origin: http://"+host+"\n"), "200 OK"},
		{"a name that somebody points here", get("/", "Host: rebound.example:"+port+"\n"), "403 "},
		{"another port's name", get("/", "Host: 127.0.0.1:1\n"), "403 "},
		{"no name", "GET / HTTP/1.0\n\n", "403 "},
		{"a foreign page", get("/", ours+"Origin: http://rebound.example\n"), "403 "},
		{"a page from disk", get("/changes", ours+"Origin: null\n"), "403 "},
		{"an empty origin", get("/", ours+"Origin: \n"), "403 "},
		{"a foreign picture", get("/", ours+"Sec-Fetch-Site: cross-site\n"), "403 "},
		{"writing", fmt.Sprintf("POST / HTTP/1.1\nConnection: close\n%sContent-Length: 0\n\n", ours), "405 "},
		{"deleting", fmt.Sprintf("DELETE / HTTP/1.1\nConnection: close\n%s\n", ours), "405 "},
		{"a file", get("/wren.yaml", ours), "404 "},
		{"a file above", get("/../wren.yaml", ours), "404 "},
		{"a file above, hidden", get("/..%2f..%2fetc/passwd", ours), "404 "},
		{"a file above, twice hidden", get("/%2e%2e/%2e%2e/etc/passwd", ours), "404 "},
		{"the machine's", get("//etc/passwd", ours), "404 "},
		{"an artefact", get("/report.html", ours), "404 "},
		{"a query", get("/?file=wren.yaml", ours), "404 "},
	} {
		got := ask(t, host, c.request)
		if !strings.HasPrefix(got, "HTTP/1.1 "+c.status) && !strings.HasPrefix(got, "HTTP/1.0 "+c.status) {
			t.Errorf("%s: %.80q, want %s", c.what, got, c.status)
		}
		if strings.Contains(got, "crossovers:") || strings.Contains(got, "root:x:") || c.status != "200 OK" && strings.Contains(got, "<main>") {
			t.Errorf("%s: it tells what it must not: %.300s", c.what, got)
		}
		for _, h := range []string{"Content-Security-Policy: default-src 'none'", "X-Content-Type-Options: nosniff", "Cross-Origin-Resource-Policy: same-origin"} {
			if !strings.Contains(got, h) {
				t.Errorf("%s: no %s", c.what, h)
			}
		}
	}
	// Other addresses of this machine have no such server.
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range addresses {
		if ip, ok := a.(*net.IPNet); ok && !ip.IP.IsLoopback() {
			if c, err := net.DialTimeout("tcp", net.JoinHostPort(ip.IP.String(), port), time.Second); err == nil {
				c.Close()
				t.Errorf("it listens on %s too", ip.IP)
			}
		}
	}
	turns(t, w, host)
}

// turns follows the news: a report more after a save, faults after a mistake, and the last good page all along.
func turns(t *testing.T, w *watching, host string) {
	t.Helper()
	news, err := http.Get("http://" + host + "/changes")
	if err != nil {
		t.Fatal(err)
	}
	defer news.Body.Close()
	lines := bufio.NewScanner(news.Body)
	next := func(want string) {
		t.Helper()
		for lines.Scan() {
			if line := lines.Text(); line != "" {
				if !strings.HasPrefix(line, "data: "+want) {
					t.Errorf("%.200s, want %s", line, want)
				}
				return
			}
		}
		t.Fatalf("the news ended: %v", lines.Err())
	}
	page := func() string {
		return ask(t, host, "GET / HTTP/1.1\nConnection: close\nHost: "+host+"\n\n")
	}
	next(`{"built":1,"faults":[]}`)
	put(t, filepath.Join(w.dir, "wren.yaml"), small("wren", loose, "float32")+"\nnonsense: 3\n")
	next(`{"built":1,"faults":["wren.yaml:`)
	if p := page(); !strings.Contains(p, "48 kHz float32") || !strings.Contains(p, `data-built="1"`) {
		t.Errorf("the last good report is gone: %.300s", p)
	}
	saved := time.Now()
	put(t, filepath.Join(w.dir, "wren.yaml"), small("wren", loose, "float64"))
	next(`{"built":2,"faults":[]}`)
	if p := page(); !strings.Contains(p, "48 kHz float64") {
		t.Errorf("not the new report: %.300s", p)
	}
	t.Logf("from the save to the new page %v", time.Since(saved))
}

// diff and check write pages of what changed; check needs something to compare with.
func TestPagesOfChanges(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "wren.yaml"), small("wren", loose, "float32"))
	put(t, filepath.Join(dir, "new.yaml"), strings.Replace(small("wren", loose, "float32"), "at: 2 kHz", "at: 2.4 kHz", 1))
	r := bandwright(t, dir, "diff", "wren.yaml", "new.yaml", "--html", "pages/moved.html")
	data, err := os.ReadFile(filepath.Join(dir, "pages/moved.html"))
	if err != nil || !strings.Contains(string(data), "wren, before and after") || !strings.Contains(string(data), "data-strip=\"error\"") {
		t.Errorf("exit code %d: %v\n%s%s", r.code, err, r.out, r.err)
	}
	expect(t, "nothing to compare with", bandwright(t, dir, "check", "wren.yaml", "--html", "pages"), exitRefused, "--html needs `--against DIR`")
	expect(t, "accepted", bandwright(t, dir, "check", "wren.yaml", "--against", "kept", "--accept"), exitKept)
	expect(t, "a page of each", bandwright(t, dir, "check", "wren.yaml", "--against", "kept", "--html", "pages"), exitKept)
	if data, err := os.ReadFile(filepath.Join(dir, "pages/wren.html")); err != nil || !strings.Contains(string(data), "no change") && !strings.Contains(string(data), "No change") {
		t.Errorf("%v", err)
	}
}

// What else is made waits for a page that listens to come back for the new report, for no longer than it
// must, and for none where nobody listens or there is no new report.
func TestAPageIsTurnedOverFirst(t *testing.T) {
	report := []compiler.File{{Name: "report.html", Data: []byte("new")}}
	d := &lectern{news: make(chan struct{}), came: make(chan struct{}), patience: time.Hour}
	d.show(report, nil) // nobody listens
	defer d.listens()()
	d.show(nil, []string{"a fault"}) // nothing to come back for
	done := make(chan struct{})
	go func() { d.show(report, nil); close(done) }()
	for built := 1; built == 1; {
		select {
		case <-done:
			t.Fatal("it did not wait")
		default:
		}
		state, _, _ := d.now()
		built = state.Built
	}
	time.Sleep(20 * time.Millisecond)
	select {
	case <-done:
		t.Fatal("it did not wait")
	default:
	}
	defer d.listens()()
	<-done
	d.patience = 0
	d.show(report, nil) // nobody comes back
}

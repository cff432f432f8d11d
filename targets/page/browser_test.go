package page_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"bandwright/compiler"
	"bandwright/compiler/result"
	"bandwright/targets"
)

// product is a spec's build, its page on disk and its index.
type product struct {
	build *compiler.Build
	index *result.Result
	json  any // the index as any tool reads it
	url   string
	size  int
}

// made compiles a spec and puts its page into a folder.
func made(t *testing.T, name, src string) product { return madeSince(t, name, src, nil) }

// madeSince is made with an accepted result to compare with.
func madeSince(t *testing.T, name, src string, before *result.Accepted) product {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), name, []byte(src), os.DirFS("../../specs"))
	if err != nil || b == nil {
		t.Fatalf("%s: %v %v", name, err, faults)
	}
	if before != nil {
		if b.Before, err = before.Bytes(); err != nil {
			t.Fatal(err)
		}
	}
	files, err := targets.Emit(b, []string{"report"})
	if err != nil {
		t.Fatal(err)
	}
	p := product{build: b}
	dir := t.TempDir()
	for _, f := range files {
		if f.Name == "report.html" {
			p.url, p.size = "file://"+filepath.Join(dir, f.Name), len(f.Data)
			if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o666); err != nil {
				t.Fatal(err)
			}
		}
	}
	last := files[len(files)-1].Data
	if p.index, err = result.Read(last); err != nil {
		t.Fatal(err)
	}
	read := json.NewDecoder(bytes.NewReader(last))
	read.UseNumber()
	if err := read.Decode(&p.json); err != nil {
		t.Fatal(err)
	}
	return p
}

func shipped(t *testing.T, name string) product {
	t.Helper()
	src, err := os.ReadFile("../../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return made(t, name, string(src))
}

// browser is one Chromium for all tests. What it says on its console is collected.
type browser struct {
	context.Context
	mutex sync.Mutex
	said  []string
}

func newBrowser(t *testing.T) *browser {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.Flag("no-sandbox", true))
	all, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(all)
	t.Cleanup(end)
	ctx, late := context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(late)
	b := &browser{Context: ctx}
	console := chromedp.Console(ctx)
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatalf("no headless Chromium (.ci/tools installs it): %v", err)
	}
	go func() {
		for m, err := range console {
			if err != nil {
				return
			}
			b.mutex.Lock()
			b.said = append(b.said, m.String())
			b.mutex.Unlock()
		}
	}()
	return b
}

// open shows a page in a window so wide, in a colour scheme.
func (b *browser) open(t *testing.T, url string, width int64, scheme string) {
	t.Helper()
	b.do(t, chromedp.EmulateViewport(width, 900))
	if _, err := chromedp.Call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}); err != nil {
		t.Fatal(err)
	}
	b.do(t, chromedp.Navigate(url))
	if !evaluate[bool](t, b, "window.report !== undefined && window.report.ready") {
		t.Fatalf("%s: the script did not run: %s", url, b.heard())
	}
}

func (b *browser) do(t *testing.T, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(b, actions...); err != nil {
		t.Fatal(err)
	}
}

// heard is what the console said.
func (b *browser) heard() string {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	return strings.Join(b.said, "\n")
}

// evaluate is the value of an expression of the page, a promise's once it is there.
func evaluate[T any](t *testing.T, b *browser, expression string) T {
	t.Helper()
	v, err := chromedp.Run(b, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%.300s: %v", expression, err)
	}
	return v
}

// at is the value of a path such as findings[3].worst in an index.
func at(v any, path string) (any, error) {
	for part := range strings.SplitSeq(strings.ReplaceAll(path, "[", ".["), ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[part]
		case []any:
			var i int
			if _, err := fmt.Sscanf(part, "[%d]", &i); err != nil || i < 0 || i >= len(x) {
				return nil, fmt.Errorf("%s: no %s", path, part)
			}
			v = x[i]
		default:
			return nil, fmt.Errorf("%s: nothing at %s", path, part)
		}
	}
	return v, nil
}

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"bandwright/compiler/progress"
)

// An interruption while the spec is being read.
func TestInterruptWhileReading(t *testing.T) {
	dir := compiled(t, "float32")
	pipe := filepath.Join(dir, "pipe.yaml")
	if err := syscall.Mkfifo(pipe, 0o644); err != nil {
		t.Fatal(err)
	}
	before := tree(t, dir)
	for _, args := range [][]string{{"compile", "pipe.yaml", "-o", "out"}, {"check", "pipe.yaml", "wren.yaml"}} {
		var errs strings.Builder
		cmd := exec.Command(binary, args...)
		cmd.Dir, cmd.Stderr = dir, &errs
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		// Opening the other end waits until the program has opened its own.
		w, err := os.OpenFile(pipe, os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		cmd.Wait()
		w.Close()
		if code := cmd.ProcessState.ExitCode(); code != exitFailed || !strings.Contains(errs.String(), "interrupted") {
			t.Errorf("%v: exit code %d, stderr %q", args, code, errs.String())
		}
	}
	same(t, "interrupted", dir, before)
}

// begun starts compiling wren.yaml into out, which holds what old says.
func begun(t *testing.T, dir, out string, old map[string]string) *exec.Cmd {
	t.Helper()
	if err := os.RemoveAll(out); err != nil {
		t.Fatal(err)
	}
	for name, text := range old {
		if name != "." {
			put(t, filepath.Join(out, name), text)
		}
	}
	cmd := exec.Command(binary, "compile", "wren.yaml", "-o", "out")
	cmd.Dir = dir
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd
}

// Interrupted at any moment, the folder holds the old output or the new one,
// and the exit code says which.
func TestInterruptAtAnyMoment(t *testing.T) {
	dir := compiled(t, "float32")
	out := filepath.Join(dir, "out")
	old := tree(t, out)
	put(t, filepath.Join(dir, "wren.yaml"), small("wren", "4 dB", "float32, float64"))
	begin := time.Now()
	expect(t, "uninterrupted", bandwright(t, dir, "compile", "wren.yaml", "-o", "other"), exitKept)
	took := time.Since(begin)
	fresh := tree(t, filepath.Join(dir, "other"))

	const moments = 24
	interrupted, finished := 0, 0
	for i := range moments {
		cmd := begun(t, dir, out, old)
		time.Sleep(took * time.Duration(i) / (moments - 4))
		err := cmd.Process.Signal(os.Interrupt)
		if err != nil && !errors.Is(err, os.ErrProcessDone) {
			t.Fatal(err)
		}
		cmd.Wait()
		code := cmd.ProcessState.ExitCode()
		status := cmd.ProcessState.Sys().(syscall.WaitStatus)
		switch {
		case code == exitKept:
			finished++
			same(t, fmt.Sprintf("finished, moment %d", i), out, fresh)
		case code == exitFailed || status.Signaled() && status.Signal() == syscall.SIGINT:
			// The signal may come before the program has begun to listen.
			interrupted++
			same(t, fmt.Sprintf("interrupted, moment %d", i), out, old)
		default:
			t.Errorf("moment %d: exit code %d", i, code)
		}
	}
	t.Logf("%d interrupted, %d finished, in %v", interrupted, finished, took)
	if interrupted == 0 {
		t.Error("no run was interrupted: the test did not test")
	}
}

// terminal is a pseudo-terminal: what is written to slave comes out of master.
func terminal(t *testing.T) (master, slave *os.File) {
	t.Helper()
	master, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { master.Close() })
	var number, unlock uint32
	for _, c := range []struct {
		request uintptr
		value   *uint32
	}{{syscall.TIOCSPTLCK, &unlock}, {syscall.TIOCGPTN, &number}} {
		if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, master.Fd(), c.request, uintptr(unsafe.Pointer(c.value))); e != 0 {
			t.Fatal(e)
		}
	}
	slave, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { slave.Close() })
	return master, slave
}

func TestProgress(t *testing.T) {
	master, slave := terminal(t)
	quick := startProgress(slave, "quick")
	quick.stop()
	slow := startProgress(slave, "slow")
	ctx := slow.in(context.Background(), "")
	progress.Say(ctx, "early")
	time.Sleep(patience + 200*time.Millisecond)
	progress.Say(ctx, "late")
	slow.aside(func() { slave.WriteString("said") })
	slow.stop()
	slow.stop()
	progress.Say(ctx, "too late")
	file, err := os.CreateTemp(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	stop := startProgress(file, "no terminal").stop
	time.Sleep(patience + 200*time.Millisecond)
	stop()
	slave.WriteString("end")
	got := make([]byte, 200)
	n := 0
	for !strings.HasSuffix(string(got[:n]), "end") {
		k, err := master.Read(got[n:])
		if err != nil {
			t.Fatal(err)
		}
		n += k
	}
	wipe := func(text string) string { return text + "\r" + strings.Repeat(" ", len(text)) + "\r" }
	if want := wipe("slow: early ...") + wipe("slow: late ...") + "said" + wipe("slow: late ...") + "end"; string(got[:n]) != want {
		t.Errorf("on the terminal: %q, want %q", got[:n], want)
	}
	if data, err := io.ReadAll(file); err != nil || len(data) != 0 {
		t.Errorf("in the file: %q, %v", data, err)
	}
	if data, err := os.ReadFile(file.Name()); err != nil || len(data) != 0 {
		t.Errorf("in the file: %q, %v", data, err)
	}
}

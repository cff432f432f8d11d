package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// On a terminal a long choice of values says what it does, and an interruption in
// the middle of it ends the program. The bound is for a slow machine.
func TestLongChoice(t *testing.T) {
	spec, err := os.ReadFile("../../specs/bittern.yaml")
	if err != nil {
		t.Fatal(err)
	}
	dir := place(t, "bittern.yaml", strings.Replace(string(spec), "\nboard:\n  held:", "\nboard:\n  few-values: 0.2 dB\n  # anew, not", 1))
	master, slave := terminal(t)
	cmd := exec.Command(binary, "check", "bittern.yaml")
	cmd.Dir, cmd.Stderr = dir, slave
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	slave.Close() // reading ends with the program
	said := ""
	for buffer := make([]byte, 1000); !strings.Contains(said, "looking for few different values of "); {
		n, err := master.Read(buffer)
		if said += string(buffer[:n]); err != nil {
			t.Fatalf("%v\n%q", err, said)
		}
	}
	if !strings.Contains(said, "checking: bittern.yaml: ") {
		t.Errorf("on the terminal: %q", said)
	}
	begin := time.Now()
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	took := time.Since(begin)
	if code := cmd.ProcessState.ExitCode(); code != exitFailed || took > 5*time.Second {
		t.Errorf("exit code %d, %v after the signal", code, took)
	}
	t.Logf("ended %v after the signal", took)
}

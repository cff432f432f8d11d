package kicad_test

import (
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler"
)

// run has the suite's command do something in a folder, and returns what it says and
// whether it was content.
func run(t *testing.T, folder string, args ...string) (string, bool) {
	t.Helper()
	tool, err := exec.LookPath("kicad-cli")
	if err != nil {
		t.Fatal("kicad-cli is missing: run .ci/tools, which installs the Debian package `kicad`, version 8 or newer")
	}
	cmd := exec.Command(tool, args...)
	cmd.Dir = folder
	cmd.Env = append(os.Environ(), "HOME="+folder, "XDG_CONFIG_HOME="+folder, "XDG_CACHE_HOME="+folder)
	out, err := cmd.CombinedOutput()
	return string(out), err == nil
}

// write puts files into a folder of their own, with a project's file in which one rule is
// off: that symbols are of a library which is installed. Ours stand in the files.
func write(t *testing.T, files []compiler.File) string {
	t.Helper()
	folder := t.TempDir()
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(folder, filepath.Base(f.Name)), f.Data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	settings := `{"erc": {"rule_severities": {"lib_symbol_issues": "ignore"}}}`
	if err := os.WriteFile(filepath.Join(folder, strings.TrimSuffix(filepath.Base(files[0].Name), "_sch")+"_pro"), []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	return folder
}

// exported is the netlist that the suite finds in the files.
type exported struct {
	Components []struct {
		Ref    string `xml:"ref,attr"`
		Value  string `xml:"value"`
		Foot   string `xml:"footprint"`
		Fields []struct {
			Name string `xml:"name,attr"`
			Text string `xml:",chardata"`
		} `xml:"fields>field"`
		Properties []struct {
			Name string `xml:"name,attr"`
		} `xml:"property"`
	} `xml:"components>comp"`
	Nets []struct {
		Name  string `xml:"name,attr"`
		Nodes []struct {
			Ref string `xml:"ref,attr"`
			Pin string `xml:"pin,attr"`
		} `xml:"node"`
	} `xml:"nets>net"`
}

func export(t *testing.T, folder, name string) exported {
	t.Helper()
	if out, ok := run(t, folder, "sch", "export", "netlist", "--format", "kicadxml", "-o", "out.xml", name+".kicad_sch"); !ok || strings.Contains(out, "rror") {
		t.Fatal(out)
	}
	data, err := os.ReadFile(filepath.Join(folder, "out.xml"))
	if err != nil {
		t.Fatal(err)
	}
	var e exported
	if err := xml.Unmarshal(data, &e); err != nil {
		t.Fatal(err)
	}
	return e
}

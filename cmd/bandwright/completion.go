package main

import (
	"bytes"
	"embed"
	"fmt"
	"strconv"
	"strings"
	"text/template"

	"github.com/alecthomas/kong"

	"bandwright/targets"
)

// Completion is the verb that prints what a shell needs to complete the others.
type Completion struct {
	Shell string `arg:"" name:"SHELL" enum:"bash,zsh,fish" help:"bash, zsh or fish."`
}

// Help is printed below the arguments.
func (Completion) Help() string {
	return `Verbs, flags, specs, folders and groups of artefacts are completed. Nothing is installed: add the line for your shell to its startup file.

Examples:

    source <(bandwright completion bash)
    source <(bandwright completion zsh)
    bandwright completion fish | source`
}

// shells holds a template for each shell's script.
//
//go:embed shells/*.tmpl
var shells embed.FS

// Run prints the script for one shell, made from the same model as the help.
func (c Completion) Run(con console, grammar *kong.Context) error {
	name := c.Shell + ".tmpl"
	script, err := template.New(name).Funcs(template.FuncMap{"quote": single}).ParseFS(shells, "shells/"+name)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := script.Execute(&out, verbs(grammar.Model)); err != nil {
		return err
	}
	if _, err := con.out.Write(out.Bytes()); err != nil {
		return failed("the script cannot be printed: %v", reason(err))
	}
	return nil
}

// verb is a command as completion sees it.
type verb struct {
	Name, Help string
	Flags      []flag
	Args       []argument
}

type flag struct {
	Short, Long string // with their dashes; Short may be ""
	Help        string
	Value       *argument // nil for a switch
}

// argument is what may stand for a value.
type argument struct {
	name     string
	Repeated bool // it may be given again, or holds a list with commas
	folders  bool
	files    []string // their endings
	words    []string
}

// verbs takes kong's model apart.
func verbs(app *kong.Application) []verb {
	var out []verb
	for _, n := range app.Children {
		v := verb{Name: n.Name, Help: brief(n.Help)}
		for _, group := range n.AllFlags(true) {
			for _, f := range group {
				g := flag{Long: "--" + f.Name, Help: brief(f.Help)}
				if f.Short != 0 {
					g.Short = "-" + string(f.Short)
				}
				if !f.IsBool() {
					a := argumentOf(f.Value, f.PlaceHolder)
					g.Value = &a
				}
				v.Flags = append(v.Flags, g)
			}
		}
		for _, p := range n.Positional {
			a := argumentOf(p, p.Name)
			if p.Name == "COMMAND" {
				a.words = commands(app)
			}
			v.Args = append(v.Args, a)
		}
		out = append(out, v)
	}
	return out
}

// commands are the names of all of them.
func commands(app *kong.Application) []string {
	var out []string
	for _, n := range app.Children {
		out = append(out, n.Name)
	}
	return out
}

// argumentOf tells a value by the name that help gives it.
func argumentOf(v *kong.Value, name string) argument {
	a := argument{name: name, Repeated: v.IsCumulative(), folders: name == "DIR"}
	switch {
	case name == "SPEC":
		a.files = []string{extension}
	case name == "IN.wav", name == "FILE.wav":
		a.files = []string{".wav"}
	case name == "RESPONSE":
		a.files = []string{".csv", ".txt", ".wav"}
	case name == "OLD", name == "NEW":
		a.files = []string{extension, ".json"}
	case v.Enum != "":
		a.words = v.EnumSlice()
	case name == "FORMAT":
		a.words = formatNames()
	case name == "GROUP":
		a.words = targets.Groups()
	}
	return a
}

// brief is a help text's first clause.
func brief(help string) string {
	for _, end := range []string{". ", "; ", ": "} {
		help, _, _ = strings.Cut(help, end)
	}
	return strings.TrimSuffix(help, ".")
}

// Patterns are a verb's flag in each of its spellings, as bash tells words apart.
func (f flag) Patterns(v verb) string {
	long := fmt.Sprintf("%q", v.Name+" "+f.Long)
	if f.Short == "" {
		return long
	}
	return fmt.Sprintf("%q | %s", v.Name+" "+f.Short, long)
}

// InBash sets what bash offers for an argument.
func (a argument) InBash() string {
	switch {
	case a.files != nil:
		return fmt.Sprintf("kind=files files=%q", strings.Join(a.files, " "))
	case a.folders:
		return "kind=folders"
	case a.words != nil && a.Repeated:
		return fmt.Sprintf("kind=words list=1 words=%q", strings.Join(a.words, " "))
	case a.words != nil:
		return fmt.Sprintf("kind=words words=%q", strings.Join(a.words, " "))
	}
	return "kind=none"
}

// InZsh is a flag as _arguments takes it.
func (f flag) InZsh() string {
	value := ""
	if f.Value != nil {
		value = f.Value.inZsh()
	}
	help := single("[", strings.NewReplacer("[", "(", "]", ")", ":", " -").Replace(f.Help), "]", value)
	switch {
	case f.Short == "" && value == "":
		return f.Long + help
	case f.Short == "":
		return f.Long + "=" + help
	case value == "":
		return fmt.Sprintf("'(%s %s)'{%s,%s}%s", f.Short, f.Long, f.Short, f.Long, help)
	}
	return fmt.Sprintf("'(%s %s)'{%s+,%s=}%s", f.Short, f.Long, f.Short, f.Long, help)
}

// PlacedInZsh is argument i of a verb as _arguments takes it.
func (a argument) PlacedInZsh(i int) string {
	if a.Repeated {
		return single("*", a.inZsh())
	}
	return single(strconv.Itoa(i+1), a.inZsh())
}

// inZsh is an argument behind its place, as _arguments takes it.
func (a argument) inZsh() string {
	switch {
	case a.files != nil:
		return `:` + a.name + `:_files -g "*` + strings.Join(a.files, " *") + `"`
	case a.folders:
		return ":" + a.name + ":_files -/"
	case a.words != nil && a.Repeated:
		return ":" + a.name + ":_values -s , " + a.name + " " + strings.Join(a.words, " ")
	case a.words != nil:
		return ":" + a.name + ":(" + strings.Join(a.words, " ") + ")"
	}
	return ":" + a.name + ": "
}

// InFish is what fish offers for an argument.
func (a argument) InFish() string {
	switch {
	case a.files != nil:
		endings := strings.ReplaceAll(strings.Join(a.files, "|"), ".", `\.`)
		return ` -a '(__fish_complete_path (commandline -ct) | string match -r "^.*(?:` + endings + `|/)(?:\t.*)?\$")'`
	case a.folders:
		return " -a '(__fish_complete_directories)'"
	case a.words != nil && a.Repeated:
		return " -a '(__fish_append , " + strings.Join(a.words, " ") + ")'"
	case a.words != nil:
		return " -a " + single(strings.Join(a.words, " "))
	}
	return ""
}

// single is a text in single quotes, in which nothing is special to a shell
// but the quote itself, written so that bash, zsh and fish all read it.
func single(parts ...string) string {
	return "'" + strings.ReplaceAll(strings.Join(parts, ""), "'", `'"'"'`) + "'"
}

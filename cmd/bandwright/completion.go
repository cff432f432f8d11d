package main

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"

	"bandwright/targets"
)

// Completion is the verb that prints what a shell needs to complete the others.
type Completion struct {
	Shell string `arg:"" name:"SHELL" enum:"bash,zsh,fish" help:"bash, zsh or fish."`
}

// Help is printed below the arguments.
func (Completion) Help() string {
	return `Verbs, flags, specs, folders and groups of artefacts are completed. Nothing is installed: put the line of your shell where it reads its settings.

Examples:

    source <(bandwright completion bash)
    source <(bandwright completion zsh)
    bandwright completion fish | source`
}

// Run prints the script for one shell, made from the same model as the help.
func (c Completion) Run(con console, grammar *kong.Context) error {
	script := map[string]func([]verb) string{"bash": forBash, "zsh": forZsh, "fish": forFish}[c.Shell]
	if _, err := con.out.Write([]byte(script(verbs(grammar.Model)))); err != nil {
		return failed("the script cannot be printed: %v", reason(err))
	}
	return nil
}

// verb is a command as completion sees it.
type verb struct {
	name, help string
	flags      []flag
	args       []argument
}

type flag struct {
	short, long string // with their dashes; short may be ""
	help        string
	value       *argument // nil for a switch
}

// argument is what may stand for a value.
type argument struct {
	name     string
	repeated bool // it may be given again, or holds a list with commas
	folders  bool
	files    []string // their endings
	words    []string
}

// verbs takes kong's model apart.
func verbs(app *kong.Application) []verb {
	var out []verb
	for _, n := range app.Children {
		v := verb{name: n.Name, help: brief(n.Help)}
		for _, group := range n.AllFlags(true) {
			for _, f := range group {
				g := flag{long: "--" + f.Name, help: brief(f.Help)}
				if f.Short != 0 {
					g.short = "-" + string(f.Short)
				}
				if !f.IsBool() {
					a := argumentOf(f.Value, f.PlaceHolder)
					g.value = &a
				}
				v.flags = append(v.flags, g)
			}
		}
		for _, p := range n.Positional {
			v.args = append(v.args, argumentOf(p, p.Name))
		}
		out = append(out, v)
	}
	return out
}

// argumentOf tells a value by the name that help gives it.
func argumentOf(v *kong.Value, name string) argument {
	a := argument{name: name, repeated: v.IsCumulative(), folders: name == "DIR"}
	switch {
	case name == "SPEC":
		a.files = []string{extension}
	case name == "OLD", name == "NEW":
		a.files = []string{extension, acceptedEnding}
	case v.Enum != "":
		a.words = v.EnumSlice()
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

// spellings are the ways to write a flag.
func (f flag) spellings() []string {
	if f.short == "" {
		return []string{f.long}
	}
	return []string{f.short, f.long}
}

// text collects lines.
type text struct{ strings.Builder }

func (t *text) line(format string, args ...any) { fmt.Fprintf(t, format+"\n", args...) }

// forBash is a function for bash 3.2 and newer. Bash hands over the words of
// the line, with each `=` as a word of its own.
func forBash(all []verb) string {
	var names []string
	valued, values, flags, args := &text{}, &text{}, &text{}, &text{}
	for _, v := range all {
		names = append(names, v.name)
		var long []string
		for _, f := range v.flags {
			long = append(long, f.long)
			if f.value == nil {
				continue
			}
			var patterns []string
			for _, s := range f.spellings() {
				patterns = append(patterns, `"`+v.name+` `+s+`"`)
			}
			valued.line("        %s) take=1 ;;", strings.Join(patterns, " | "))
			values.line("    %s) %s ;;", strings.Join(patterns, " | "), f.value.inBash())
		}
		flags.line("    %s) words=%q ;;", v.name, strings.Join(long, " "))
		for i, a := range v.args {
			pattern := fmt.Sprintf(`"%s %d"`, v.name, i)
			if a.repeated {
				pattern = `"` + v.name + ` "*`
			}
			args.line("    %s) %s ;;", pattern, a.inBash())
		}
	}
	t := &text{}
	t.line("# Completion of bandwright in bash: source <(bandwright completion bash)")
	t.line("_bandwright() {")
	t.line("    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]}")
	t.line("    if [[ $cur == = ]]; then")
	t.line("        cur=''")
	t.line("    elif [[ $prev == = ]]; then")
	t.line("        prev=${COMP_WORDS[COMP_CWORD - 2]}")
	t.line("    fi")
	t.line("    # The verb, and how many of its arguments stand before the cursor.")
	t.line("    local verb='' at=0 take=0 i")
	t.line("    for ((i = 1; i < COMP_CWORD; i++)); do")
	t.line("        if [[ ${COMP_WORDS[i]} == = ]]; then")
	t.line("            continue")
	t.line("        elif ((take)); then")
	t.line("            take=0")
	t.line("            continue")
	t.line("        fi")
	t.line(`        case "$verb ${COMP_WORDS[i]}" in`)
	t.WriteString(valued.String())
	t.line(`        *" -"*) ;;`)
	t.line("        *)")
	t.line("            if [[ -z $verb ]]; then")
	t.line("                verb=${COMP_WORDS[i]}")
	t.line("            else")
	t.line("                ((at++))")
	t.line("            fi")
	t.line("            ;;")
	t.line("        esac")
	t.line("    done")
	t.line("    COMPREPLY=()")
	t.line("    local words='' kind='' files='' list=0")
	t.line(`    case "$verb $prev" in`)
	t.WriteString(values.String())
	t.line("    *) kind=argument ;;")
	t.line("    esac")
	t.line("    if [[ $kind == argument && -z $verb && $cur == -* ]]; then")
	t.line("        words=--help")
	t.line("    elif [[ $kind == argument && -z $verb ]]; then")
	t.line("        words=%q", strings.Join(names, " "))
	t.line("    elif [[ $kind == argument && $cur == -* ]]; then")
	t.line("        case $verb in")
	t.WriteString(indented(flags.String()))
	t.line("        esac")
	t.line("    elif [[ $kind == argument ]]; then")
	t.line(`        case "$verb $at" in`)
	t.WriteString(indented(args.String()))
	t.line("        esac")
	t.line("    fi")
	t.line("    local before='' word")
	t.line("    if ((list)) && [[ $cur == *,* ]]; then")
	t.line("        before=${cur%%,*},")
	t.line("        cur=${cur##*,}")
	t.line("    fi")
	t.line("    while IFS= read -r word; do")
	t.line(`        COMPREPLY+=("$before$word")`)
	t.line("    done < <(")
	t.line(`        if [[ -n $words ]]; then compgen -W "$words" -- "$cur"; fi`)
	t.line(`        for word in $files; do compgen -f -X "!*$word" -- "$cur"; done`)
	t.line(`        if [[ $kind == files || $kind == folders ]]; then compgen -d -- "$cur"; fi`)
	t.line("    )")
	t.line("    if [[ $kind == files || $kind == folders ]]; then")
	t.line("        compopt -o filenames 2>/dev/null")
	t.line("    fi")
	t.line("}")
	t.line("complete -F _bandwright bandwright")
	return t.String()
}

func indented(lines string) string {
	return strings.ReplaceAll("    "+strings.TrimSuffix(lines, "\n"), "\n", "\n    ") + "\n"
}

// inBash sets what bash offers for an argument.
func (a argument) inBash() string {
	switch {
	case a.files != nil:
		return fmt.Sprintf("kind=files files=%q", strings.Join(a.files, " "))
	case a.folders:
		return "kind=folders"
	case a.words != nil && a.repeated:
		return fmt.Sprintf("kind=words list=1 words=%q", strings.Join(a.words, " "))
	case a.words != nil:
		return fmt.Sprintf("kind=words words=%q", strings.Join(a.words, " "))
	}
	return "kind=none"
}

// forZsh is a function for zsh's own completion system.
func forZsh(all []verb) string {
	t := &text{}
	t.line("#compdef bandwright")
	t.line("# Completion of bandwright in zsh, after compinit: source <(bandwright completion zsh)")
	t.line("_bandwright() {")
	t.line("    local state line context")
	t.line("    local -a verbs")
	t.line("    typeset -A opt_args")
	t.line("    verbs=(")
	for _, v := range all {
		t.line("        %s", single(v.name+":"+v.help))
	}
	t.line("    )")
	t.line("    _arguments -C '--help[Show how]' '1: :->verb' '*:: :->rest'")
	t.line("    case $state in")
	t.line("    verb) _describe -t verbs verb verbs ;;")
	t.line("    rest)")
	t.line("        case $words[1] in")
	for _, v := range all {
		var specs []string
		for _, f := range v.flags {
			value := ""
			if f.value != nil {
				value = f.value.inZsh()
			}
			help := single("[" + strings.NewReplacer("[", "(", "]", ")", ":", " -").Replace(f.help) + "]" + value)
			switch {
			case f.short == "" && value == "":
				specs = append(specs, f.long+help)
			case f.short == "":
				specs = append(specs, f.long+"="+help)
			case value == "":
				specs = append(specs, fmt.Sprintf("'(%s %s)'{%s,%s}%s", f.short, f.long, f.short, f.long, help))
			default:
				specs = append(specs, fmt.Sprintf("'(%s %s)'{%s+,%s=}%s", f.short, f.long, f.short, f.long, help))
			}
		}
		for i, a := range v.args {
			where := fmt.Sprint(i + 1)
			if a.repeated {
				where = "*"
			}
			specs = append(specs, single(where+a.inZsh()))
		}
		t.line("        %s) _arguments %s ;;", v.name, strings.Join(specs, " "))
	}
	t.line("        esac")
	t.line("        ;;")
	t.line("    esac")
	t.line("}")
	t.line(`if [[ $funcstack[1] == _bandwright ]]; then`)
	t.line(`    _bandwright "$@"`)
	t.line("else")
	t.line("    compdef _bandwright bandwright")
	t.line("fi")
	return t.String()
}

// inZsh is an argument behind its place, as _arguments takes it.
func (a argument) inZsh() string {
	switch {
	case a.files != nil:
		return `:` + a.name + `:_files -g "*` + strings.Join(a.files, " *") + `"`
	case a.folders:
		return ":" + a.name + ":_files -/"
	case a.words != nil && a.repeated:
		return ":" + a.name + ":_values -s , " + a.name + " " + strings.Join(a.words, " ")
	case a.words != nil:
		return ":" + a.name + ":(" + strings.Join(a.words, " ") + ")"
	}
	return ":" + a.name + ": "
}

// forFish is a list of rules.
func forFish(all []verb) string {
	t := &text{}
	t.line("# Completion of bandwright in fish: bandwright completion fish | source")
	t.line("complete -c bandwright -f")
	t.line("complete -c bandwright -n __fish_use_subcommand -l help -d 'Show how'")
	for _, v := range all {
		t.line("complete -c bandwright -n __fish_use_subcommand -a %s -d %s", v.name, single(v.help))
		when := single("__fish_seen_subcommand_from " + v.name)
		for _, f := range v.flags {
			rule := "complete -c bandwright -n " + when
			if f.short != "" {
				rule += " -s " + f.short[1:]
			}
			rule += " -l " + f.long[2:] + " -d " + single(f.help)
			if f.value != nil {
				rule += " -x" + f.value.inFish()
			}
			t.line("%s", rule)
		}
		for _, a := range v.args {
			if offered := a.inFish(); offered != "" {
				t.line("complete -c bandwright -n %s%s", when, offered)
			}
		}
	}
	return t.String()
}

// inFish is what fish offers for an argument.
func (a argument) inFish() string {
	switch {
	case a.files != nil:
		endings := strings.ReplaceAll(strings.Join(a.files, "|"), ".", `\.`)
		return ` -a '(__fish_complete_path (commandline -ct) | string match -r "^.*(?:` + endings + `|/)(?:\t.*)?\$")'`
	case a.folders:
		return " -a '(__fish_complete_directories)'"
	case a.words != nil && a.repeated:
		return " -a '(__fish_append , " + strings.Join(a.words, " ") + ")'"
	case a.words != nil:
		return " -a " + single(strings.Join(a.words, " "))
	}
	return ""
}

// single is a text in single quotes, in which nothing is special to a shell
// but the quote itself, written so that bash, zsh and fish all read it.
func single(s string) string { return "'" + strings.ReplaceAll(s, "'", `'"'"'`) + "'" }

package language

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/token"
)

// layout walks the token stream before anything is parsed. It counts what the
// limits count, so that no depth and no length reaches the parser, whose time
// is quadratic in both. It refuses the parts of YAML that a spec does without,
// and it says in our words where the lines do not fit together, which the
// parser would report one at a time and often elsewhere.
type layout struct {
	*reader
	toks   []*token.Token // without comments
	blocks []block
	flows  []flow
}

// flow is an open bracket.
type flow struct {
	tok          *token.Token
	keys, commas int
}

// check reports whether the parser may have the tokens. What it leaves to the
// parser is rare.
func (l *layout) check(all token.Tokens) bool {
	before := len(l.faults)
	if len(all) > maxTokens {
		l.fault(Pos{1, 1}, fmt.Sprintf("more than %d tokens", maxTokens), "is it the right file?")
		return false
	}
	for _, t := range all {
		if t.Type != token.CommentType {
			l.toks = append(l.toks, t)
		}
	}
	for i := range l.toks {
		if !l.token(i) {
			return false
		}
	}
	if n := len(l.flows); n > 0 {
		open := l.flows[n-1].tok
		l.fault(place(open), fmt.Sprintf("this `%s` is never closed", open.Value), "close it with `"+closing(open)+"`")
	}
	return len(l.faults) == before
}

func place(t *token.Token) Pos { return Pos{t.Position.Line, t.Position.Column} }

func closing(open *token.Token) string {
	if open.Type == token.SequenceStartType {
		return "]"
	}
	return "}"
}

// token looks at one token. It returns false where what follows cannot be
// judged any more.
func (l *layout) token(i int) bool {
	t := l.toks[i]
	switch t.Type {
	case token.InvalidType:
		return l.invalid(t)
	case token.MergeKeyType:
		l.fault(place(t), "a merge key `<<`", "give a whole value a name with `&name` and repeat it with `*name`, or write the keys out")
	case token.TagType, token.MappingKeyType, token.LiteralType, token.FoldedType, token.DirectiveType:
		return l.foreign(t)
	case token.DocumentHeaderType, token.DocumentEndType:
		return l.document(i)
	case token.SequenceStartType, token.MappingStartType:
		l.flows = append(l.flows, flow{tok: t})
		return l.deep(place(t))
	case token.SequenceEndType, token.MappingEndType:
		return l.close(t)
	case token.CollectEntryType:
		return l.comma(i)
	case token.MappingValueType:
		return l.colon(i)
	case token.SequenceEntryType:
		return l.dash(i)
	}
	return l.word(i)
}

// foreign refuses what YAML has and a spec does without.
func (l *layout) foreign(t *token.Token) bool {
	message, right := "", ""
	switch t.Type {
	case token.TagType:
		message, right = "a tag: "+quoted(t.Value), "leave it out; a "+l.noun()+" has no tags"
	case token.MappingKeyType:
		message, right = "`? ` begins a key that is not a word", "keys are words: `key: value`"
	case token.DirectiveType:
		message, right = "`%` begins a directive", "leave it out, or put a text that begins with % in quotes"
	default:
		message, right = fmt.Sprintf("`%s` begins a text of several lines", t.Value[:1]), "a value goes on one line, after its key"
	}
	l.fault(place(t), message, right)
	return false
}

// document refuses a second document.
func (l *layout) document(i int) bool {
	switch header := l.toks[i].Type == token.DocumentHeaderType; {
	case header && i > 0:
		l.fault(place(l.toks[i]), "a second document", "one file is one "+l.noun()+": remove the `---`, or split the file")
		return false
	case !header && i+1 < len(l.toks):
		l.fault(place(l.toks[i+1]), "a second document", "one file is one "+l.noun()+": nothing may follow `...`")
		return false
	}
	return true
}

// close ends a list or mapping in brackets.
func (l *layout) close(t *token.Token) bool {
	n := len(l.flows)
	if n == 0 {
		l.fault(place(t), fmt.Sprintf("this `%s` closes nothing", t.Value), "remove it, or open it before")
		return false
	}
	if open := l.flows[n-1].tok; closing(open) != t.Value {
		l.fault(place(t), fmt.Sprintf("this `%s` does not close the `%s` of line %d", t.Value, open.Value, open.Position.Line), "close that one first, with `"+closing(open)+"`")
		return false
	}
	l.flows = l.flows[:n-1]
	return true
}

// comma looks at the sign between two elements in brackets.
func (l *layout) comma(i int) bool {
	at := place(l.toks[i])
	if i > 0 {
		switch l.toks[i-1].Type {
		case token.CollectEntryType, token.SequenceStartType, token.MappingStartType:
			l.fault(at, "a comma with nothing before it", "remove it")
		}
	}
	if n := len(l.flows); n > 0 {
		f := &l.flows[n-1]
		if f.commas++; f.tok.Type == token.MappingStartType && f.commas > maxKeys {
			return l.crowded(at)
		}
	}
	return true
}

// dash looks at the sign before an item.
func (l *layout) dash(i int) bool {
	if l.minus(i) {
		return true
	}
	if len(l.flows) == 0 {
		return l.item(i)
	}
	l.fault(place(l.toks[i]), "a `- ` inside brackets", "inside `[ ]` a comma separates the elements of a list")
	return false
}

// word looks at a key, or at a value that is one scalar.
func (l *layout) word(i int) bool {
	t := l.toks[i]
	isKey := i+1 < len(l.toks) && l.toks[i+1].Type == token.MappingValueType
	runsOn := strings.Contains(strings.TrimSpace(t.Origin), "\n")
	if runsOn && !l.runsOn(i, isKey) {
		return false
	}
	switch {
	case runsOn && !isKey: // said
	case isKey && len(l.flows) == 0:
		return l.key(i)
	case !isKey && len(l.flows) == 0 && t.Type != token.AnchorType && t.Type != token.AliasType && l.alone(i):
		l.stray(place(t), strings.TrimSpace(l.from(place(t))))
	case !isKey && len(l.flows) > 0 && t.Type == token.StringType:
		return l.missingComma(t)
	}
	return true
}

// minus reports `gain: - 3 dB`, where a dash is meant as a sign.
func (l *layout) minus(i int) bool {
	if i == 0 || i+1 >= len(l.toks) {
		return false
	}
	t, next := l.toks[i], l.toks[i+1]
	before := l.toks[i-1]
	if before.Type == token.SequenceEntryType || before.Position.Line != t.Position.Line || next.Position.Line != t.Position.Line || number(next.Value) == 0 {
		return false
	}
	l.fault(place(t), "a space after a minus sign", "write "+code("-"+next.Value))
	return true
}

// runsOn refuses a scalar that runs on into the next line, which is nearly
// always a slip in that line or in its own. It returns false where the rest
// cannot be judged.
func (l *layout) runsOn(i int, isKey bool) bool {
	t := l.toks[i]
	at := l.begin(i)
	if t.Type == token.SingleQuoteType || t.Type == token.DoubleQuoteType {
		l.fault(at, "this text does not end on its line", "close the quotes on the same line")
		return false
	}
	line := []rune(l.line(at.Line))
	before, text := strings.TrimSpace(string(line[:at.Col-1])), strings.TrimSpace(string(line[at.Col-1:]))
	last := l.filled(at.Line) // the line that the scalar runs on into
	next := Pos{last, indentation(l.line(last))}
	if before != "" && before != "-" && (isKey || strings.Contains(l.line(last), ": ")) {
		l.fault(next, "this line is indented below a key that has a value already", "a key has either a value or its own keys: check the indentation")
		return false
	}
	if before != "" && before != "-" {
		l.fault(next, "a value of the line above continues here", fmt.Sprintf("a value goes on one line: join it to line %d", at.Line))
		return true
	}
	l.stray(at, text)
	return true
}

// alone reports whether token i begins a line where only a key can stand.
func (l *layout) alone(i int) bool {
	if i == 0 {
		word, rest, colon := strings.Cut(l.toks[i].Value, ":")
		return colon && isWord(word) && rest != ""
	}
	return l.toks[i-1].Position.Line < l.toks[i].Position.Line && !l.pending(i)
}

// stray reports a text that begins a line and is no key.
func (l *layout) stray(at Pos, text string) {
	word, rest, colon := strings.Cut(text, ":")
	switch {
	case colon && isWord(word) && rest != "":
		l.fault(Pos{at.Line, at.Col + len(word)}, "no space after this colon", "write "+code(word+": "+strings.TrimSpace(rest)))
	case isWord(text):
		l.fault(at, fmt.Sprintf("%s is a key without its colon", quoted(text)), "write "+code(text+":"))
	default:
		l.fault(at, "this line is not `key: value`", "a line is `key: value`, `key:` or `- item`")
	}
}

// begin is where token i begins, told from the token before it: the lexer
// places some scalars of several lines on their last one.
func (l *layout) begin(i int) Pos {
	at := Pos{1, 1}
	if i > 0 {
		at = place(l.toks[i-1])
		at.Col += len([]rune(strings.TrimSpace(l.toks[i-1].Origin)))
	}
	text, _, _ := strings.Cut(" "+l.from(at), " #")
	if rest := strings.TrimLeft(text, " "); rest != "" {
		at.Col += len(text) - len(rest) - 1
		return l.inside(at)
	}
	n := l.filled(at.Line)
	return l.inside(Pos{n, indentation(l.line(n))})
}

// filled is the next line after n that has more than a comment on it, the last
// line if there is none.
func (l *layout) filled(n int) int {
	for n++; n < len(l.lines); n++ {
		if s := strings.TrimSpace(l.line(n)); s != "" && s[0] != '#' {
			return n
		}
	}
	return len(l.lines)
}

// indentation is the column of the first character that is not a space.
func indentation(line string) int {
	return len(line) - len(strings.TrimLeft(line, " ")) + 1
}

// isWord reports whether s could be a key.
func isWord(s string) bool {
	return s != "" && strings.Trim(s, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-") == ""
}

// colon looks at the sign between key and value.
func (l *layout) colon(i int) bool {
	t := l.toks[i]
	at := place(t)
	if i == 0 {
		l.fault(at, "a colon without a key before it", "write `key: value`")
		return false
	}
	key := l.toks[i-1]
	switch key.Type {
	case token.SequenceEndType, token.MappingEndType:
		l.fault(at, "a list or a mapping as a key", "keys are words: `key: value`")
		return false
	case token.SequenceEntryType, token.CollectEntryType, token.SequenceStartType, token.MappingStartType, token.MappingValueType, token.DocumentHeaderType:
		l.fault(at, "a colon without a key before it", "write `key: value`")
		return false
	}
	if i > 1 && l.toks[i-2].Type == token.AliasType {
		l.fault(place(l.toks[i-2]), "an alias as a key", "keys are words: `key: value`")
		return false
	}
	if n := len(l.flows); n > 0 {
		if l.flows[n-1].keys++; l.flows[n-1].keys > maxKeys {
			return l.crowded(place(key))
		}
	}
	plain := key.Type != token.DoubleQuoteType && key.Type != token.SingleQuoteType
	if next := l.from(Pos{at.Line, at.Col + 1}); len(l.flows) > 0 && plain && next != "" && !strings.ContainsRune(" ,]}", rune(next[0])) {
		value, _, _ := strings.Cut(next, ",")
		l.fault(at, "no space after this colon", "write "+code(key.Value+": "+strings.TrimRight(value, " }]")))
	}
	return true
}

// missingComma finds `{at: 22 Hz q: 2}`, which the lexer takes for one value.
func (l *layout) missingComma(t *token.Token) bool {
	i := strings.Index(t.Value, ": ")
	if i < 0 {
		return true
	}
	at := place(t)
	j := strings.LastIndex(t.Value[:i], " ")
	if j < 0 {
		l.fault(at, "a second colon in one value", "put a text with a colon in quotes: `\""+t.Value+"\"`")
		return true
	}
	word := t.Value[j+1 : i]
	at.Col += len([]rune(t.Value[:j+1]))
	l.fault(at, "no comma before "+quoted(word), "write "+code(strings.TrimRight(t.Value[:j], " ")+", "+t.Value[j+1:]))
	return true
}

// deep checks the nesting after something was opened.
func (l *layout) deep(at Pos) bool {
	if len(l.blocks)+len(l.flows) <= maxNesting {
		return true
	}
	l.fault(at, fmt.Sprintf("nested more than %d deep", maxNesting), "a "+l.noun()+" does not need that")
	return false
}

func (l *layout) crowded(at Pos) bool {
	l.fault(at, fmt.Sprintf("more than %d keys in one mapping", maxKeys), "is it the right file?")
	return false
}

// invalid translates what the lexer could not read.
func (l *layout) invalid(t *token.Token) bool {
	at := l.inside(place(t))
	switch e := t.Error; {
	case strings.Contains(e, "end character"):
		l.fault(at, "these quotes are never closed", "close them on the same line")
	case strings.Contains(e, "escape"), strings.Contains(e, "surrogate"):
		l.fault(at, "a backslash sequence that YAML does not know", `in double quotes write \\ for a backslash, or use single quotes`)
	case strings.Contains(e, "reserved"):
		l.fault(at, "a value cannot begin with this character", "put the text in quotes")
	default:
		l.fault(at, "this is not YAML", "a line is `key: value`, `key:` or `- item`")
	}
	return false
}

// inside moves a place that the lexer or the parser gives to the nearest one
// that the file has.
func (r *reader) inside(at Pos) Pos {
	at.Line = min(max(at.Line, 1), max(len(r.lines), 1))
	at.Col = min(max(at.Col, 1), len([]rune(r.line(at.Line)))+1)
	return at
}

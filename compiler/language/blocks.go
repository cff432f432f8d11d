package language

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/token"
)

// block is an open mapping or list that is laid out by indentation.
type block struct {
	col  int
	list bool
	keys int
}

// key places a key of a block mapping.
func (l *layout) key(i int) bool {
	t := l.toks[i]
	at := place(t)
	if i > 0 && l.toks[i-1].Position.Line == at.Line {
		switch p := l.toks[i-1]; {
		case p.Type == token.MappingValueType:
			key := l.toks[i-2]
			text, _, _ := strings.Cut(l.from(at), " #")
			l.fault(place(l.toks[i+1]), "a second colon on one line", "put a text with a colon in quotes: "+code(key.Value+`: "`+strings.TrimSpace(text)+`"`))
			return false
		case i > 1 && l.toks[i-2].Type == token.AnchorType:
			l.fault(place(l.toks[i-2]), "an anchor before a key", "an anchor names a whole value: put the mapping in braces, `"+"&"+p.Value+" {…}`")
			return false
		case p.Type == token.DocumentHeaderType:
			l.fault(at, "a key on the line of `---`", "begin on the next line")
			return false
		case p.Type != token.SequenceEntryType:
			return true // the parser knows
		}
	}
	open := l.blocks
	for len(l.blocks) > 0 {
		top := l.blocks[len(l.blocks)-1]
		if top.col < at.Col || top.col == at.Col && !top.list {
			break
		}
		l.blocks = l.blocks[:len(l.blocks)-1]
	}
	popped := len(l.blocks) < len(open)
	if n := len(l.blocks); n > 0 && l.blocks[n-1].col == at.Col {
		if l.blocks[n-1].keys++; l.blocks[n-1].keys > maxKeys {
			return l.crowded(at)
		}
		return true
	}
	if popped || !l.pending(i) {
		return l.misfit(at, open, "key "+quoted(t.Value))
	}
	l.blocks = append(l.blocks, block{col: at.Col, keys: 1})
	return l.deep(at)
}

// item places the dash of a block list.
func (l *layout) item(i int) bool {
	at := place(l.toks[i])
	if i > 0 && l.toks[i-1].Position.Line == at.Line && l.toks[i-1].Type != token.SequenceEntryType {
		if l.toks[i-1].Type == token.MappingValueType {
			l.fault(at, "a list begins on the line of its key", "begin it on the next line, or write it in brackets: `[a, b]`")
			return false
		}
		return true // the parser knows
	}
	open := l.blocks
	for len(l.blocks) > 0 && l.blocks[len(l.blocks)-1].col > at.Col {
		l.blocks = l.blocks[:len(l.blocks)-1]
	}
	popped := len(l.blocks) < len(open)
	if n := len(l.blocks); n > 0 && l.blocks[n-1].col == at.Col && l.blocks[n-1].list {
		return true
	}
	if popped || !l.pending(i) {
		return l.misfit(at, open, "list item")
	}
	l.blocks = append(l.blocks, block{col: at.Col, list: true})
	return l.deep(at)
}

// pending reports whether the token before i still waits for its value.
func (l *layout) pending(i int) bool {
	i--
	if i > 0 && l.toks[i-1].Type == token.AnchorType {
		i -= 2
	}
	if i < 0 {
		return true
	}
	switch l.toks[i].Type {
	case token.MappingValueType, token.SequenceEntryType, token.DocumentHeaderType:
		return true
	}
	return false
}

// misfit reports a line whose indentation belongs to nothing that is open.
func (l *layout) misfit(at Pos, open []block, what string) bool {
	var cols []string
	for k, b := range open {
		if k > 0 && open[k-1].col == b.col {
			continue
		}
		cols = append(cols, fmt.Sprint(b.col))
	}
	right := "a " + l.noun() + " is `key: value` lines that begin in column 1"
	if len(cols) > 0 {
		right = "lines may begin here in column " + list(cols, "or")
	}
	for _, b := range open {
		if b.col == at.Col && b.list {
			right = "every element of a list begins with `- `"
		} else if b.col == at.Col {
			right = "in a mapping every line is `key: value`"
		}
	}
	l.fault(at, fmt.Sprintf("this %s matches nothing above it: check the indentation", what), right)
	return false
}

package language

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	yaml "github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// node is a value of the file before its meaning is known. Values that aliases
// stand for are shared.
type node struct {
	at      Pos
	shape   shape
	text    string  // of a scalar
	quotes  bool    // the scalar stands in quotes
	flow    bool    // the list or mapping stands in brackets
	items   []*node // of a list
	entries []entry // of a mapping, each key once
	// cut is what a whole number in a list and the text behind the comma after
	// it make together, "1,2 kHz": a decimal comma, or two elements. torn marks
	// a text that YAML took apart at such a comma.
	cut  string
	torn bool
	// size counts this node and those below it, depth the lists and mappings on
	// the longest way down, both with what aliases stand for.
	size, depth int
}

type entry struct {
	key   string
	at    Pos
	value *node
}

type shape int

const (
	empty  shape = iota
	broken       // a fault is noted already
	lone         // no value: an element of a mapping in braces without a colon
	scalar
	listing
	mapping
)

// tree reads the text into nodes. Where it returns nil, faults say why; where it
// does not, there may be faults, but the rest can be judged.
func (r *reader) tree(text string) *node {
	tokens := lexer.Tokenize(text)
	if l := (&layout{reader: r}); !l.check(tokens) {
		return nil
	}
	file, err := parsed(tokens)
	if err != nil {
		r.syntax(err)
		return nil
	}
	var body ast.Node
	for _, d := range file.Docs {
		if d.Body != nil {
			body = d.Body
		}
	}
	if body == nil {
		r.fault(r.inside(Pos{1, 1}), "the file has no content", "a "+r.noun()+" begins with "+code(r.firstLine()))
		return nil
	}
	c := converter{reader: r, anchors: map[string]*node{}}
	return c.node(body, Pos{1, 1})
}

// parsed is the library's parser, kept from ending the program on input that it
// is not prepared for.
func parsed(tokens token.Tokens) (f *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			f, err = nil, fmt.Errorf("%v", p)
		}
	}()
	return parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
}

// syntax reports what the parser stopped at.
func (r *reader) syntax(err error) {
	at := Pos{1, 1}
	message := ""
	if e, ok := err.(yaml.Error); ok {
		message = e.GetMessage()
		if t := e.GetToken(); t != nil && t.Position != nil {
			at = place(t)
		}
	}
	at = r.inside(at)
	switch {
	case strings.Contains(message, "must be specified"), strings.Contains(message, "flow map content"):
		r.fault(at, "no comma before this", "inside brackets a comma separates the elements, and a key ends in `: `")
	case strings.Contains(message, "not allowed in this context"), strings.Contains(message, "non-map value"):
		r.fault(at, "this follows the end of a value", "remove it or put it on a separate line; put text with quotes or brackets in quotes as a whole")
	case strings.Contains(message, "anchor"), strings.Contains(message, "alias"):
		r.fault(at, "this anchor or alias has no name or no value", "write `&name value` once and `*name` where it is repeated")
	default:
		r.fault(at, "this is not YAML as a "+r.noun()+" uses it", "a line is `key: value`, `key:` or `- item`")
	}
}

// converter turns the library's syntax tree into nodes.
type converter struct {
	*reader
	anchors map[string]*node // nil while its own value is read
	level   int              // of lists and mappings open
	total   int              // values that aliases stand for
}

// node converts a value; around is the place to name where it has none.
func (c *converter) node(n ast.Node, around Pos) *node {
	if a, ok := n.(*ast.AliasNode); ok {
		return c.alias(a)
	}
	if a, ok := n.(*ast.AnchorNode); ok {
		return c.anchor(a)
	}
	c.level++
	out := c.shaped(n, around)
	c.level--
	out.size = 1
	add := func(below *node) {
		out.size += below.size
		out.depth = max(out.depth, below.depth+1)
	}
	for _, i := range out.items {
		add(i)
	}
	for _, e := range out.entries {
		add(e.value)
	}
	return out
}

func (c *converter) shaped(n ast.Node, around Pos) *node {
	switch n := n.(type) {
	case nil:
		return &node{at: around}
	case *ast.NullNode:
		if t := n.Token; t.Type == token.NullType {
			return &node{at: place(t), text: t.Value}
		}
		return &node{at: around}
	case *ast.MappingNode:
		return c.mapping(n.Values, n.IsFlowStyle, n.Start, around)
	case *ast.MappingValueNode:
		return c.mapping([]*ast.MappingValueNode{n}, false, n.Start, around)
	case *ast.SequenceNode:
		return c.list(n)
	case *ast.CommentGroupNode:
		return &node{at: around}
	}
	t := n.GetToken()
	return &node{
		at: place(t), shape: scalar, text: t.Value,
		quotes: t.Type == token.SingleQuoteType || t.Type == token.DoubleQuoteType,
	}
}

func (c *converter) list(n *ast.SequenceNode) *node {
	out := &node{at: place(n.Start), shape: listing, flow: n.IsFlowStyle}
	for i, v := range n.Values {
		if m, ok := v.(*ast.MappingNode); ok && n.IsFlowStyle && !m.IsFlowStyle {
			key := m.Values[0].Key
			c.fault(place(key.GetToken()), "a key inside `[ ]`", "put the mapping in braces: `{"+key.GetToken().Value+": …}`")
			out.items = append(out.items, &node{at: out.at, shape: broken})
			continue
		}
		around := out.at
		if !n.IsFlowStyle && i < len(n.Entries) && n.Entries[i].Start != nil {
			around = place(n.Entries[i].Start)
		}
		item := c.node(v, around)
		if k := len(out.items); k > 0 && n.IsFlowStyle {
			c.comma(out.items[k-1], item.at, item.text)
		}
		out.items = append(out.items, item)
	}
	return out
}

// comma notes that text follows the whole number in n with only a comma
// between them.
func (c *converter) comma(n *node, at Pos, text string) {
	end := n.at.Col + len([]rune(n.text))
	if n.shape == scalar && !n.quotes && isWhole(strings.TrimLeft(n.text, "\u2212")) &&
		n.at.Line == at.Line && at.Col == end+1 && text != "" && text[0] >= '0' && text[0] <= '9' {
		n.cut = n.text + "," + text
	}
}

func (c *converter) mapping(values []*ast.MappingValueNode, flow bool, start *token.Token, around Pos) *node {
	out := &node{at: around, shape: mapping, flow: flow}
	if flow {
		out.at = place(start)
	} else if len(values) > 0 {
		out.at = place(values[0].Key.GetToken())
	}
	seen := map[string]Pos{}
	for _, v := range values {
		t := v.Key.GetToken()
		at := place(t)
		if _, ok := v.Key.(*ast.AnchorNode); ok {
			c.fault(at, "an anchor before a key", "an anchor names a whole value: `key: &name value`")
			continue
		}
		key := t.Value
		if v.Start == t { // no colon behind it
			if k := len(out.entries); k > 0 {
				last := out.entries[k-1].value
				if c.comma(last, at, key); last.cut != "" {
					last.text, last.cut, last.torn = last.cut, "", true
					continue
				}
			}
			out.entries = append(out.entries, entry{key, at, &node{at: at, shape: lone, text: key}})
			continue
		}
		value := c.node(v.Value, at)
		if first, twice := seen[key]; twice {
			c.fault(at, quoted(key)+" is given twice", fmt.Sprintf("the first is on line %d: keep one of them", first.Line))
			continue
		}
		seen[key] = at
		out.entries = append(out.entries, entry{key, at, value})
	}
	return out
}

func (c *converter) anchor(n *ast.AnchorNode) *node {
	name, at := n.Name.GetToken().Value, place(n.Start)
	if _, twice := c.anchors[name]; twice {
		c.fault(at, "the anchor "+quoted("&"+name)+" is given twice", "give each its own name")
		return c.node(n.Value, at)
	}
	c.anchors[name] = nil
	value := c.node(n.Value, at)
	c.anchors[name] = value
	return value
}

func (c *converter) alias(n *ast.AliasNode) *node {
	name, at := n.Value.GetToken().Value, place(n.Start)
	value, known := c.anchors[name]
	switch {
	case !known:
		right := "give a value that name first: `&" + name + " value`"
		if w := Nearest(name, slices.Sorted(maps.Keys(c.anchors))); w != "" {
			right = "did you mean " + quoted("*"+w) + "?"
		}
		c.fault(at, "there is no anchor "+quoted("&"+name)+" above", right)
	case value == nil:
		c.fault(at, quoted("*"+name)+" is inside the value that it repeats", "a value cannot hold itself")
	case c.level+value.depth > maxNesting:
		c.fault(at, fmt.Sprintf("nested more than %d deep once %s is expanded", maxNesting, quoted("*"+name)), "a "+c.noun()+" does not need that")
	case c.total > maxTokens: // said already
	default:
		if c.total += value.size; c.total <= maxTokens {
			return value
		}
		c.fault(at, fmt.Sprintf("aliases expand to more than %d values", maxTokens), "is it the right file?")
	}
	return &node{at: at, shape: broken}
}

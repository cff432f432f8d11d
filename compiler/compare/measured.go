package compare

import (
	"maps"
	"slices"
	"strings"

	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// measured adds what became of each way whose measured response is another one: what the
// file holds, or how the spec says that it was measured. told are the edits that this is
// said of, as they do nothing but together with what the file holds.
func (c *comparison) measured() (told map[string]bool) {
	told = map[string]bool{}
	spoken := map[string]bool{} // files
	for _, way := range c.measuredWays() {
		o, n := c.old.Measured(way), c.new.Measured(way)
		if o != nil && n != nil && o.FromHz == n.FromHz && slices.Equal(o.DB, n.DB) && slices.Equal(o.Deg, n.Deg) {
			continue
		}
		var by Change
		var said []string
		of := map[string]bool{}
		for _, e := range c.edits {
			if e.radiates() && strings.HasPrefix(e.path+".", "ways."+way+".driver.") {
				by.Causes, said, of[e.said] = append(by.Causes, e.path), append(said, e.said), true
				by.Line = max(by.Line, e.at.Line)
			}
		}
		if n != nil && c.another(n.File) {
			said = append(said, n.File+" is another file")
		}
		if said == nil {
			said = []string{"Bandwright itself reads it otherwise"}
		}
		is := c.listen(func(e edit) bool { return of[e.said] }, func(w string) bool { return w == way })
		if c.moves(c.before(), is, by, words.List(said)) {
			maps.Copy(told, of)
			if n != nil {
				spoken[n.File] = true
			}
		}
	}
	c.unheard(spoken)
	return told
}

// unheard adds the files of measured responses that are others and of which nothing else is said.
func (c *comparison) unheard(spoken map[string]bool) {
	for _, way := range c.measuredWays() {
		n := c.new.Measured(way)
		if n == nil || spoken[n.File] || !c.another(n.File) {
			continue
		}
		spoken[n.File] = true
		text := n.File + " is another file, which moves no response on the axis"
		if c.old.Measured(way) == nil {
			text = n.File + " is another file; what it held is not in the result before"
		}
		c.add(Change{Kind: OfText, Way: way, Sentence: text})
	}
}

// measuredWays are the ways of which either result holds a measured response.
func (c *comparison) measuredWays() (out []string) {
	for _, a := range []*result.Accepted{c.old, c.new} {
		for _, w := range a.Drivers {
			if !slices.Contains(out, w.Way) {
				out = append(out, w.Way)
			}
		}
	}
	return out
}

// another reports whether both specs name a file, and it holds something else now.
func (c *comparison) another(file string) bool {
	was, named := c.old.Inputs[file]
	is, still := c.new.Inputs[file]
	return named && still && was != is
}

// isResponse reports whether a file is the measured response of a way.
func (c *comparison) isResponse(file string) bool {
	return slices.ContainsFunc(c.measuredWays(), func(way string) bool {
		n := c.new.Measured(way)
		return n != nil && n.File == file
	})
}

// files adds those that hold something else now, where no spec says what they are for.
func (c *comparison) files() {
	for _, said := range c.otherFiles() {
		c.add(Change{Kind: OfText, Sentence: said + "; what it moves is told between two specs or accepted results"})
	}
}

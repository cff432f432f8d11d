package report

import (
	"bandwright/compiler"
	"bandwright/compiler/brief"
)

// cautions are what a person should know before the first sound.
func cautions(p *page, b *compiler.Build) {
	p.heading("Before the first sound")
	for _, s := range brief.Cautions(b) {
		p.item(s, "  * ", "    ")
	}
}

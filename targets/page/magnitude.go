package page

import (
	"fmt"
	"html/template"

	"bandwright/compiler/words"
)

var magnitudeChapter = Chapter{Name: "level", Title: "What each way does",
	Says: func(p *Paper) string {
		return fmt.Sprintf("%s share %s to %s, each to its prototype's level.", capital(words.Count(len(p.curves.ways), "way", "ways")), words.Hz(p.Promises.LowHz), words.Hz(p.Promises.HighHz))
	},
	Body: func(p *Paper) template.HTML {
		d := drawing{name: "Level of each way", says: "The thin band is what was wanted, the solid line the digital filter, the dashed one the board. " +
			"Where a line stays in the band nobody sees it leave; what it leaves by is drawn below."}
		for way := range p.curves.ways {
			d.strips = append(d.strips, p.levels(levelKind, way, 66))
		}
		return p.draw(d)
	},
}

// capital is a sentence's beginning.
func capital(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

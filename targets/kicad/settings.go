package kicad

import "fmt"

// settings is the project's file. One check of rules is off: that symbols are those of
// libraries which the user has, for these stand in the files.
func (p *project) settings() []byte {
	return fmt.Appendf(nil, `{
  "erc": {
    "rule_severities": {
      "lib_symbol_issues": "ignore"
    }
  },
  "meta": {
    "filename": "%s.kicad_pro",
    "version": 1
  }
}
`, p.stem)
}

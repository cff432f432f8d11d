// Package golden holds what the whole must go on giving: every artefact of
// every shipped spec byte for byte, the arrow of imports, and the rules of the
// house. It has tests only. The folders beside them are made by
// `make golden` from specs/, one a spec; published/ holds values of standards
// and papers that tests elsewhere read.
package golden

package language

import "strings"

// Nearest is the name that a user most likely meant by word, "" if none is
// near. Letter case, dashes, underscores and spaces do not count; beyond them a
// third of the letters may be wrong. Of equally near names the first wins.
func Nearest(word string, names []string) string {
	const letters = 3 // per wrong letter
	best, least := "", 0
	w := fold(word)
	if len(w) > 64 {
		return "" // longer than any name, and the distance is quadratic
	}
	for _, name := range names {
		n := fold(name)
		if n == w {
			return name
		}
		d := distance(w, n)
		if d*letters > max(len([]rune(w)), len([]rune(n))) {
			continue
		}
		if best == "" || d < least {
			best, least = name, d
		}
	}
	return best
}

func fold(s string) string {
	return strings.NewReplacer("-", "", "_", "", " ", "").Replace(strings.ToLower(s))
}

// distance is the number of letters to insert, delete, replace or swap with
// their neighbour that turns a into b (optimal string alignment; Damerau,
// Comm. ACM 7(3), 1964, for the four errors).
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	before := make([]int, len(t)+1) // row i-2
	last := make([]int, len(t)+1)   // row i-1
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(s); i++ {
		row := make([]int, len(t)+1)
		row[0] = i
		for j := 1; j <= len(t); j++ {
			cost := 1
			if s[i-1] == t[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last = last, row
	}
	return last[len(t)]
}

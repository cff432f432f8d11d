package assign

import (
	"slices"
)

const (
	// listOfValues is how many choices of each stage that a palette allows are looked
	// at, and rounds over the pairs of stages there are for them; with settings a
	// board has many paths, and only stages of those that miss their limits move.
	listOfValues, listThorough        = 24, 200
	patience, patienceLazy, unhurried = 1, 3, mostRounds
)

// place is how far an arrangement came before it missed its limits.
type place uint8

// From the best on.
const (
	nowhere     place = iota // it keeps them
	atSums                   // paths kept them on their own
	atOthers                 // in a path that is not the longest of its way
	atCore                   // in one that is
	unbuildable              // a stage has no choice
)

// miss is where, and by how much (dB), limits are missed. Palettes that fail later
// miss less.
type miss struct {
	where place
	db    float64
}

// less reports whether a miss is less than another one, by more than by (dB) where both
// are in one place.
func (m miss) less(other miss, by float64) bool {
	if m.where != other.where {
		return m.where < other.where
	}
	return m.db < other.db-by
}

// arranged is a pick within a palette, from one to start with, and by how much it
// misses the limits as the tables have it. It depends on nothing else.
func (s *reduction) arranged(a *arrangement, start []int, p palette, thorough bool) ([]int, miss) {
	most, rounds := listOfValues, patience
	switch {
	case thorough:
		most, rounds = listThorough, unhurried
	case a.lazy:
		rounds = patienceLazy
	}
	a.hasty = a.lazy && !thorough
	pick, lists := s.allowed(start, p, most)
	if pick == nil {
		return nil, miss{where: unbuildable}
	}
	was := a.pick
	a.pick, a.lists = pick, lists
	// The longest paths first: most palettes fail there. Then the others, with the
	// stages that only they have before all, and sums, which take longest, at last.
	clear(a.watched)
	copy(a.watched, s.core)
	a.moved(was)
	clear(a.tried)
	a.descend(rounds, a.pathsWithin)
	if !a.pathsWithin() {
		return slices.Clone(a.pick), miss{atCore, a.excess()}
	}
	if a.lazy {
		s.arrangeOthers(a, rounds)
		if !a.pathsWithin() {
			return slices.Clone(a.pick), miss{atOthers, a.excess()}
		}
	}
	a.watch(len(s.p.paths), len(a.watched))
	a.refresh()
	clear(a.tried)
	a.descend(rounds, a.within)
	m := miss{db: a.excess()}
	if m.db > 0 {
		m.where = atSums
	}
	return slices.Clone(a.pick), m
}

// allowed are the first choices of each stage, at most so many, that a palette allows,
// and a pick with the first of them where it does not allow that of start; nil where a
// stage has none.
func (s *reduction) allowed(start []int, p palette, most int) (pick []int, lists [][]int) {
	pick, lists = slices.Clone(start), make([][]int, len(start))
	for i, sets := range s.sets {
		for k, m := range sets {
			if p.allows(m) {
				if lists[i] = append(lists[i], k); len(lists[i]) == most {
					break
				}
			}
		}
		if len(lists[i]) == 0 {
			return nil, nil
		}
		if !p.allows(sets[pick[i]]) {
			pick[i] = lists[i][0]
		}
	}
	return pick, lists
}

// arrangeOthers goes on with the paths that are not the longest of their way: first
// with the stages that only they have, then with all.
func (s *reduction) arrangeOthers(a *arrangement, rounds int) {
	a.watch(0, len(s.p.paths))
	whole := a.lists
	a.lists = make([][]int, len(whole))
	for i, list := range whole {
		if a.lists[i] = list; s.inCore[i] {
			a.lists[i] = a.pick[i : i+1 : i+1]
		}
	}
	a.refresh()
	clear(a.tried)
	a.descend(rounds, a.pathsWithin)
	a.lists = whole
	clear(a.tried)
	if !a.pathsWithin() {
		a.descend(rounds, a.pathsWithin)
	}
}

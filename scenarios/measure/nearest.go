package measure

// Nearest gives the known word closest in spelling to word, or "" when none is
// near enough to be what was meant: at most two letters, or a third of them, differ.
func Nearest(word string, known []string) string {
	if len(word) > 100 {
		return ""
	}
	best, least := "", max(2, len([]rune(word))/3)+1
	for _, k := range known {
		if d := distance([]rune(word), []rune(k)); d < least {
			best, least = k, d
		}
	}
	return best
}

// distance counts the letters to insert, delete or replace to turn a into b
// (Levenshtein 1966).
func distance(a, b []rune) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i, x := range a {
		diagonal := row[0]
		row[0] = i + 1
		for j, y := range b {
			cost := diagonal
			if x != y {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

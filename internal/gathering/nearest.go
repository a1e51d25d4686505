package gathering

import (
	"fmt"
	"strings"
)

// advice names the word that was probably meant, or all that are accepted.
func advice(said string, accepted []string) string {
	best, least := "", 3 // two slips of the finger are a misspelling, more another word
	for _, a := range accepted {
		if d := slips(said, a); d < least && d < len(a) {
			best, least = a, d
		}
	}
	if best != "" {
		return fmt.Sprintf("did you mean %q?", best)
	}
	switch len(accepted) {
	case 0:
		return "there are none"
	case 1:
		return "use " + accepted[0]
	}
	return "use one of " + strings.Join(accepted, ", ")
}

// slips counts the letters that were left out, added, changed or swapped with
// their neighbour between two words (optimal string alignment). Words that
// differ in length by more than two count as unlike.
func slips(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x)-len(y) > 2 || len(y)-len(x) > 2 {
		return 3
	}
	rows := make([][]int, len(x)+1)
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			change := 1
			if x[i-1] == y[j-1] {
				change = 0
			}
			d := min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+change)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d = min(d, rows[i-2][j-2]+1)
			}
			rows[i][j] = d
		}
	}
	return rows[len(x)][len(y)]
}

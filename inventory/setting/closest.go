package setting

import "strings"

// Closest is the first of the rows with the highest rank; ok is false where each
// has one below 0, which says that it does not fit.
func Closest[T any](rows []T, rank func(*T) int) (row T, ok bool) {
	best := -1
	for i := range rows {
		if r := rank(&rows[i]); r > best {
			row, best = rows[i], r
		}
	}
	return row, best >= 0
}

// Rank is how closely a row fits a case by pairs of what the row asks, which is
// anything where it is blank, and what the case is: a later pair counts more than
// all before it. It is below 0 where the row does not fit.
func Rank(pairs ...[2]string) (rank int) {
	for i, p := range pairs {
		switch {
		case p[0] == "":
		case strings.EqualFold(p[0], p[1]):
			rank += 1 << i
		default:
			return -1
		}
	}
	return rank
}

package harmony

// Usage is how usual a root progression is.
type Usage uint8

// The usages, as W. Piston's Harmony has them in its "Table of usual root
// progressions", and what that table does not have.
const (
	Usual Usage = iota
	Sometimes
	LessOften
	Unusual
)

// Following tells how usual it is that a chord on one degree of a key is followed
// by one on another; degrees count from 1 to 7. A degree follows itself as usual.
func Following(from, to int) Usage {
	switch progressions[from-1][to-1] {
	case 0:
		return Usual
	case costSometimes:
		return Sometimes
	case costSeldom:
		return LessOften
	}
	return Unusual
}

// progressions has the cost of a root progression from each degree to each.
// Usual, sometimes, less often: W. Piston, Harmony, "Table of usual root
// progressions". On the same degree a chord only changes its colour.
var progressions = [7][7]uint8{
	//  to 1            2               3            4              5            6              7
	{0, costSeldom, costSeldom, 0, 0, costSometimes, costUnusual},             // I
	{costSeldom, 0, costSeldom, costSometimes, 0, costSometimes, costUnusual}, // II
	{costSeldom, costSeldom, 0, costSometimes, costSeldom, 0, costUnusual},    // III
	{costSometimes, costSometimes, costSeldom, 0, 0, costSeldom, costUnusual}, // IV
	{0, costSeldom, costSeldom, costSometimes, 0, costSometimes, costUnusual}, // V
	{costSeldom, 0, costSometimes, costSometimes, 0, 0, costUnusual},          // VI
	{0, costSeldom, 0, costSeldom, costSeldom, costSometimes, 0},              // VII
}

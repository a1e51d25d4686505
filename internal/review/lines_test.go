package review

import "testing"

func TestTimelineOfTheDemo(t *testing.T) {
	s := reviewed(t, evening)
	golden(t, "winter-lights-100.txt", linesOf(t, s, View{Width: 100}))
	golden(t, "winter-lights-chords.txt", linesOf(t, s, View{Width: 80, Chords: true}))
}

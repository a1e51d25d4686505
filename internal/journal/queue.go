package journal

import (
	"sync"
	"time"

	"bedd/internal/bed"
)

// How much waits for the writer at most: more than a minute of a busy player over a
// moving bed, should the disk stand still.
const (
	roomRecords = 16384
	roomActions = 32768
	roomViews   = 512
	roomStates  = 1024
	roomBytes   = 1 << 18
)

// waiting is a record on its way to the writer, by its places in the batch's lists.
type waiting struct {
	kind    Kind
	at      time.Duration
	event   bed.Event
	seen    seen
	after   uint64
	actions span
	bytes   span
	view    int32 // −1 for none
	state   int32
	news    bool // seen has changed
}

type span struct{ from, to int32 }

// batch is what has come since the writer came last.
type batch struct {
	records []waiting
	actions []bed.Action
	views   []bed.View
	states  []bed.State
	bytes   []byte
	lost    Lost // what came when there was no more room; nothing follows it
	lostAt  time.Duration
}

func newBatch() *batch {
	return &batch{
		records: make([]waiting, 0, roomRecords),
		actions: make([]bed.Action, 0, roomActions),
		views:   make([]bed.View, 0, roomViews),
		states:  make([]bed.State, 0, roomStates),
		bytes:   make([]byte, 0, roomBytes),
	}
}

func (b *batch) clear() {
	b.records, b.actions, b.views, b.states, b.bytes = b.records[:0], b.actions[:0], b.views[:0], b.states[:0], b.bytes[:0]
	b.lost = Lost{}
}

func (b *batch) empty() bool { return len(b.records) == 0 && b.lost == Lost{} }

// queue is what the core and the inputs fill and the writer empties: two batches
// that change places. Whoever fills it waits for nobody but another who copies a
// record.
type queue struct {
	mu   sync.Mutex
	fill *batch
	idle *batch

	last    seen // of the last record that told it
	state   bed.State
	stateAt time.Duration
	stands  bool // state has been told since the start or the last loss
}

func newQueue() *queue {
	return &queue{fill: newBatch(), idle: newBatch(), last: seen{thousandths: -1}}
}

// swap gives what has come, to be cleared when it has been dealt with. Only one
// batch may be out.
func (q *queue) swap() *batch {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.fill.empty() {
		return nil
	}
	b := q.fill
	q.fill, q.idle = q.idle, nil
	return b
}

// giveBack makes room of a batch that was swapped out.
func (q *queue) giveBack(b *batch) {
	b.clear()
	q.mu.Lock()
	defer q.mu.Unlock()
	q.idle = b
}

// filling reports whether a batch is half full, so that the writer should come.
func (b *batch) filling() bool {
	return 2*len(b.records) > cap(b.records) || 2*len(b.actions) > cap(b.actions) || 2*len(b.bytes) > cap(b.bytes) ||
		2*len(b.views) > cap(b.views) || 2*len(b.states) > cap(b.states)
}

// full reports whether a batch has no room for so much more, and counts what is
// lost.
func (b *batch) full(at time.Duration, count *uint64, actions, bytes int) bool {
	if b.lost == (Lost{}) && len(b.records)+2 <= cap(b.records) && len(b.actions)+actions <= cap(b.actions) &&
		len(b.bytes)+bytes <= cap(b.bytes) && len(b.views) < cap(b.views) && len(b.states) < cap(b.states) {
		return false
	}
	if b.lost == (Lost{}) {
		b.lostAt = at
	}
	*count++
	return true
}

// stateEvery is how often the state is told where only the intensity moves: the end
// of a file then always has one.
const stateEvery = 5 * time.Second

// call takes a call of the bed's. Like the others it reports whether the writer
// should come now: the bed stands elsewhere, or there is much to write.
func (q *queue) call(at time.Duration, e *bed.Event, actions []bed.Action, b *bed.Bed) (soon bool) {
	entered := false
	q.mu.Lock()
	defer q.mu.Unlock()
	f := q.fill
	if f.full(at, &f.lost.Calls, len(actions), 0) {
		q.stands = false
		return false
	}
	w := waiting{kind: Called, at: at, event: *e, view: -1, state: -1}
	if len(actions) > 0 || e.Kind != bed.TimePassed {
		w.actions.from = int32(len(f.actions))
		f.actions = append(f.actions, actions...)
		w.actions.to = int32(len(f.actions))
		for i := range actions {
			entered = entered || actions[i].Kind == bed.EnterChord
		}
		w.seen, w.news = q.look(b)
	}
	if entered {
		w.news = true
		w.view = int32(len(f.views))
		f.views = append(f.views, b.View())
	}
	f.records = append(f.records, w)
	moved := q.tell(at, b.State())
	return moved || entered || f.filling()
}

// look gives what the bed is like, and whether that has changed since it was told.
func (q *queue) look(b *bed.Bed) (seen, bool) {
	s := b.Look()
	now := seen{thousandths(s.Intensity), s.Source, s.Voices, s.Phase}
	if now == q.last {
		return now, false
	}
	q.last = now
	return now, true
}

// stand takes where the bed is.
func (q *queue) stand(at time.Duration, b *bed.Bed) (soon bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if f := q.fill; f.full(at, &f.lost.Other, 0, 0) {
		return false
	}
	return q.tell(at, b.State())
}

// tell takes the state where it has changed, or its intensity for a while, and
// reports whether more than the intensity has.
func (q *queue) tell(at time.Duration, s bed.State) (moved bool) {
	then := q.state
	then.Intensity = s.Intensity
	moved = !q.stands || then != s
	if !moved && (q.state.Intensity == s.Intensity || at-q.stateAt < stateEvery) {
		return false
	}
	q.state, q.stateAt, q.stands = s, at, true
	f := q.fill
	f.records = append(f.records, waiting{kind: Stands, at: at, state: int32(len(f.states))})
	f.states = append(f.states, s)
	return moved
}

// failed takes a call that has no answer, and asks nothing of the bed.
func (q *queue) failed(at time.Duration, e *bed.Event) (soon bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if f := q.fill; !f.full(at, &f.lost.Calls, 0, 0) {
		f.records = append(f.records, waiting{kind: Called, at: at, event: *e, view: -1, state: -1})
	}
	return true
}

// step takes one of the core's steps that is no call.
func (q *queue) step(k Kind, at time.Duration) (soon bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	f := q.fill
	if f.full(at, &f.lost.Calls, 0, 0) {
		return false
	}
	f.records = append(f.records, waiting{kind: k, at: at})
	return f.filling()
}

// played takes a message of the player's.
func (q *queue) played(at time.Duration, msg []byte, after uint64) (soon bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	f := q.fill
	if f.full(at, &f.lost.Thru, 0, len(msg)) {
		return false
	}
	from := int32(len(f.bytes))
	f.bytes = append(f.bytes, msg...)
	f.records = append(f.records, waiting{kind: Played, at: at, after: after, bytes: span{from, int32(len(f.bytes))}})
	return f.filling()
}

// line takes a record that has been written out.
func (q *queue) line(at time.Duration, text []byte) (soon bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	f := q.fill
	if f.full(at, &f.lost.Other, 0, len(text)) {
		return false
	}
	from := int32(len(f.bytes))
	f.bytes = append(f.bytes, text...)
	f.records = append(f.records, waiting{at: at, bytes: span{from, int32(len(f.bytes))}})
	return f.filling()
}

// appendRecord writes a record out.
func (b *batch) appendRecord(out []byte, w *waiting) []byte {
	switch w.kind {
	case "":
		return append(out, b.bytes[w.bytes.from:w.bytes.to]...)
	case Called:
		var s *seen
		var v *bed.View
		if w.news {
			s = &w.seen
		}
		if w.view >= 0 {
			v = &b.views[w.view]
		}
		return appendCall(out, w.at, &w.event, b.actions[w.actions.from:w.actions.to], s, v)
	case Played:
		return appendPlayed(out, w.at, w.after, b.bytes[w.bytes.from:w.bytes.to])
	case Stands:
		out = append(begin(out, w.at, Stands), ',')
		return end(appendState(out, &b.states[w.state]))
	}
	return end(begin(out, w.at, w.kind))
}

func appendGap(out []byte, at time.Duration, l Lost) []byte {
	out = begin(out, at, Gap)
	out = number(out, "calls", int64(l.Calls))
	out = number(out, "thru", int64(l.Thru))
	return end(number(out, "other", int64(l.Other)))
}

package journal

import (
	"encoding/hex"
	"encoding/json"
	"strconv"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"github.com/valyala/fastjson"
)

// parse reads a line into rec and reports whether it could.
func (r *Reader) parse(line []byte, rec *Record) bool {
	*rec = Record{Actions: rec.Actions[:0], Message: rec.Message[:0]}
	if len(line) == 0 {
		return false
	}
	v, err := r.parser.ParseBytes(line)
	if err != nil || v.Type() != fastjson.TypeObject {
		return false
	}
	at, ok := instant(v.Get("t"))
	if !ok {
		return false
	}
	rec.At = at
	k := v.GetStringBytes("k")
	if len(k) == 0 {
		rec.Kind = Called
		return r.call(v, rec)
	}
	if e, ok := numbered[bed.EventKind](eventNames[:], k); ok {
		rec.Kind, rec.Event.Kind = Called, e
		return r.call(v, rec)
	}
	rec.Kind = Kind(k)
	return r.other(v, rec)
}

// other reads what is no call. A kind that is not known is given as it is.
func (r *Reader) other(v *fastjson.Value, rec *Record) (ok bool) {
	switch rec.Kind {
	case Played:
		m := v.GetStringBytes("m")
		if rec.Message, ok = unhex(rec.Message, m); !ok {
			return false
		}
		rec.After = v.GetUint64("after")
		return v.Exists("after")
	case Stands:
		s, stands := readState(v)
		rec.State = &s
		return stands
	case Cue, Notice:
		rec.Text = string(v.GetStringBytes("text"))
	case Moved:
		rec.Up = v.GetBool("up")
		return r.port(v, rec)
	case Flood:
		rec.Count = v.GetUint64("count")
		return r.port(v, rec)
	case Under:
		rec.Count = v.GetUint64("count")
	case Closed:
		rec.Count, rec.Text = v.GetUint64("refused"), string(v.GetStringBytes("why"))
	case Late:
		rec.Delays = new(Delays)
		return object(v.Get("delays"), rec.Delays)
	case Busy:
		rec.Wire = new(Wire)
		return object(v.Get("load"), rec.Wire) && r.port(v, rec)
	case Task:
		return readTried(v, &rec.Tried, len(r.head.Tasks))
	case Gap:
		rec.Lost = &Lost{Calls: v.GetUint64("calls"), Thru: v.GetUint64("thru"), Other: v.GetUint64("other")}
	}
	return true
}

func (r *Reader) port(v *fastjson.Value, rec *Record) bool {
	rec.Port = v.GetInt("p")
	return v.Exists("p") && rec.Port >= 0 && rec.Port < len(r.head.Ports)
}

func readTried(v *fastjson.Value, t *Tried, tasks int) (ok bool) {
	t.Number = v.GetInt("n")
	if ok = v.Exists("n") && t.Number >= 0 && t.Number < tasks; !ok {
		return false
	}
	if t.Over = v.GetBool("over"); !t.Over {
		return true
	}
	t.Whole, t.Figure = v.GetBool("whole"), string(v.GetStringBytes("figure"))
	t.Mark, ok = exact(v.Get("mark"))
	return ok && t.Mark >= 0 && t.Mark <= 1
}

// object reads what is written for the standard library.
func object(v *fastjson.Value, to any) bool {
	return v != nil && json.Unmarshal(v.MarshalTo(nil), to) == nil
}

// instant reads a time since the start.
func instant(v *fastjson.Value) (time.Duration, bool) {
	if v == nil {
		return 0, false
	}
	n, err := v.Int64()
	return time.Duration(n), err == nil && n >= 0 && n <= int64(maxTime)
}

func unhex(out, text []byte) ([]byte, bool) {
	if len(text)%2 != 0 || len(text) == 0 {
		return out, false
	}
	out, err := hex.AppendDecode(out, text)
	return out, err == nil
}

// call reads a call, whose event's kind is known.
func (r *Reader) call(v *fastjson.Value, rec *Record) bool {
	e, ok := &rec.Event, true
	switch e.Kind {
	case bed.Asked:
		if e.Command, ok = bed.ParseCommand(string(v.GetStringBytes("do"))); !ok {
			return false
		}
		e.Undo = v.GetBool("undo")
		if e.Command == bed.KeyTo {
			tonic, fits := small(v.Get("tonic"), 11)
			e.Tonic, ok = pitch.Class(tonic), fits
		}
	case bed.NoteStruck:
		var second bool
		e.Note, ok = small(v.Get("n"), 127)
		e.Velocity, second = small(v.Get("v"), 127)
		ok = ok && second
	case bed.NoteLeft:
		e.Note, ok = small(v.Get("n"), 127)
	case bed.DamperMoved, bed.InputEnded:
		e.On = v.GetBool("on")
	case bed.PedalMoved:
		raw := v.GetUint("raw")
		e.Raw, ok = uint16(raw), v.Exists("raw") && raw <= 0xFFFF
	case bed.VoiceHeard:
		e.Intensity, ok = exact(v.Get("x"))
		if eased := v.Get("eased"); ok && eased != nil {
			e.Eased, ok = exact(eased)
		}
	}
	if !ok || !r.actions(v.GetArray("a"), rec) {
		return false
	}
	if i := v.Get("i"); i != nil {
		r.seen = Seen{i.GetFloat64(), string(v.GetStringBytes("src")), v.GetInt("voices"), string(v.GetStringBytes("phase"))}
		rec.Seen = &r.seen
	}
	if c := v.Get("chord"); c != nil {
		rec.Chord = &r.chord
		return r.chord.read(c)
	}
	return true
}

// small reads a whole number 0…most.
func small(v *fastjson.Value, most uint) (uint8, bool) {
	if v == nil {
		return 0, false
	}
	n, err := v.Uint()
	return uint8(n), err == nil && n <= most
}

// exact reads a number to the last bit, as the parser itself does not.
func exact(v *fastjson.Value) (float64, bool) {
	if v == nil || v.Type() != fastjson.TypeNumber {
		return 0, false
	}
	var room [32]byte
	x, err := strconv.ParseFloat(string(v.MarshalTo(room[:0])), 64)
	return x, err == nil && x-x == 0
}

func (r *Reader) actions(list []*fastjson.Value, rec *Record) (ok bool) {
	due := rec.At
	for _, v := range list {
		parts, err := v.Array()
		if err != nil || len(parts) == 0 {
			return false
		}
		name := parts[0].GetStringBytes()
		if string(name) == dueName && len(parts) == 2 {
			if due, ok = instant(parts[1]); !ok {
				return false
			}
			continue
		}
		a := bed.Action{At: due}
		if a.Kind, ok = numbered[bed.ActionKind](actionNames[:], name); !ok || !readAction(&a, parts[1:]) {
			return false
		}
		rec.Actions = append(rec.Actions, a)
	}
	return true
}

// readAction reads what an action of a known kind needs.
func readAction(a *bed.Action, parts []*fastjson.Value) bool {
	var n [3]uint8 // whole numbers, as many as there are
	for i := range min(len(parts), len(n)) {
		n[i], _ = small(parts[i], 255)
	}
	layer := func() bool {
		a.Layer = bed.Layer(n[0])
		return a.Layer < bed.NumLayers
	}
	switch a.Kind {
	case bed.StrikeNote:
		a.Note, a.Velocity = n[1], n[2]
		return len(parts) == 3 && layer() && a.Note < 128 && a.Velocity < 128
	case bed.ReleaseNote:
		a.Note = n[1]
		return len(parts) == 2 && layer() && a.Note < 128
	case bed.SetLevel, bed.SetBrightness:
		a.Value = n[1]
		return len(parts) == 2 && layer() && a.Value < 128
	case bed.ChangeMoment:
		a.Value = n[0]
		return len(parts) == 1
	case bed.SongBegan:
		return len(parts) == 1 && readSong(a, parts[0])
	case bed.SilenceAll:
		return len(parts) == 0
	}
	if len(parts) == 0 {
		return false
	}
	name := string(parts[0].GetStringBytes())
	switch a.Kind {
	case bed.EnterChord:
		return readChord(&a.Chord, name)
	case bed.Tell:
		a.Notice, _ = bed.ParseNotice(name)
		return true
	}
	return readDid(a, name, parts[1:], n[1])
}

func readDid(a *bed.Action, command string, parts []*fastjson.Value, value uint8) (ok bool) {
	if a.Command, ok = bed.ParseCommand(command); !ok {
		return false
	}
	switch a.Command {
	case bed.Stay, bed.Follow:
		a.On = len(parts) > 0 && parts[0].GetBool()
	case bed.LevelUp, bed.LevelDown:
		a.Value = value
	case bed.KeyUp, bed.KeyDown, bed.KeyTo:
		return len(parts) > 0 && readKey(&a.Key, string(parts[0].GetStringBytes()))
	case bed.Take:
		return len(parts) > 0 && readSong(a, parts[0])
	}
	return true
}

func readSong(a *bed.Action, v *fastjson.Value) bool {
	n, err := v.Int()
	if err != nil || n < 0 || n > bed.MaxSongs {
		return false
	}
	a.Song = uint16(n)
	return true
}

// maxSymbol is the longest chord that is read, in bytes: twice what any takes.
const maxSymbol = 64

func readChord(c *harmony.Chord, symbol string) bool {
	if len(symbol) > maxSymbol {
		return false
	}
	var err error
	*c, err = harmony.ParseChord(symbol)
	return err == nil
}

func readKey(k *pitch.Key, name string) bool {
	if len(name) > maxSymbol {
		return false
	}
	var err error
	*k, err = pitch.ParseKey(name)
	return err == nil
}

// read reads what a chord is like.
func (c *Chord) read(v *fastjson.Value) bool {
	words := func(key string) string { return string(v.GetStringBytes(key)) }
	c.Degree, c.Symbol, c.Key, c.Place = words("degree"), words("symbol"), words("key"), words("place")
	c.Moment = v.GetInt("moment")
	c.Missing = c.Missing[:0]
	for _, m := range v.GetArray("missing") {
		c.Missing = append(c.Missing, string(m.GetStringBytes()))
	}
	c.Bass = -1
	if bass := v.Get("bass"); bass != nil {
		c.Bass = int(bass.GetUint())
	}
	ok := c.Bass < 128
	for key, list := range map[string]*[]uint8{"upper": &c.Upper, "held": &c.Held, "struck": &c.Struck, "released": &c.Released} {
		*list = (*list)[:0]
		for _, n := range v.GetArray(key) {
			note, fits := small(n, 127)
			*list, ok = append(*list, note), ok && fits
		}
	}
	return ok
}

// readState reads where a bed was.
func readState(v *fastjson.Value) (s bed.State, ok bool) {
	name := func(key string) string { return string(v.GetStringBytes(key)) }
	s.Moment, s.Index, s.RouteAt = v.GetInt("moment"), v.GetInt("index"), v.GetInt("step")
	s.Song, s.Called = v.GetInt("song"), v.GetInt("called")
	s.Follow = v.GetBool("follow")
	var intensity bool
	s.Intensity, intensity = exact(v.Get("i"))
	var phase, place, group bool
	s.Phase, phase = bed.ParsePhase(name("phase"))
	s.Place, place = bed.ParsePlace(name("place"))
	s.Group, group = bed.ParsePlace(name("group"))
	ok = intensity && phase && place && group && readKey(&s.Key, name("key")) && readKey(&s.PlanKey, name("plan")) && readChord(&s.Chord, name("chord"))
	route := v.Get("route")
	if s.Landing = route != nil; s.Landing {
		list := route.GetArray()
		if len(list) > len(s.Route) {
			return s, false
		}
		s.RouteLen = len(list)
		for i, c := range list {
			ok = readChord(&s.Route[i], string(c.GetStringBytes())) && ok
		}
	}
	return s, ok
}

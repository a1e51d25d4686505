package session

import (
	"errors"
	"fmt"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/journal"
	"bedd/internal/pitch"
)

// JournalMoments gives the moments of a session as a journal keeps them. The plan
// may be nil.
func JournalMoments(moments []bed.Moment, plan *gathering.Gathering) []journal.Moment {
	list := make([]journal.Moment, len(moments))
	for i, m := range moments {
		list[i] = journal.Moment{Key: m.Key.String(), Home: symbols(m.Home), Away: symbols(m.Away), Intensity: m.Intensity}
		if !m.NextChord.IsZero() {
			list[i].NextKey, list[i].NextChord = m.NextKey.String(), m.NextChord.Symbol()
		}
		list[i].NextSong = m.NextSong
		if m.OwnEnding {
			list[i].Ending = m.Ending.String()
		}
		if plan == nil {
			continue
		}
		p := plan.Moments[i]
		list[i].For, list[i].Cue, list[i].Lasts, list[i].Longest = p.For, p.Cue, p.Lasts, p.Longest
		if song, ok := plan.Next(i); ok {
			list[i].Song = song.Title
		}
	}
	return list
}

// JournalSongs gives the songs of a session as a journal keeps them. The plan may
// be nil.
func JournalSongs(songs []bed.Song, plan *gathering.Gathering) []journal.Song {
	var list []journal.Song
	for i, s := range songs {
		one := journal.Song{Key: s.Key.String(), Home: symbols(s.Home), Away: symbols(s.Away), Figure: s.Figure, Then: s.Then}
		if !s.First.IsZero() {
			one.First = s.First.Symbol()
		}
		if plan != nil {
			one.Title = plan.Songs[i].Title
		}
		list = append(list, one)
	}
	return list
}

func recordedSong(s journal.Song) (bed.Song, error) {
	key, err := pitch.ParseKey(s.Key)
	home, homeErr := chords(s.Home)
	away, awayErr := chords(s.Away)
	b := bed.Song{Key: key, Home: home, Away: away, Figure: s.Figure, Then: s.Then}
	var firstErr error
	if s.First != "" {
		b.First, firstErr = harmony.ParseChord(s.First)
	}
	return b, errors.Join(err, homeErr, awayErr, firstErr)
}

func symbols(chords []harmony.Chord) (list []string) {
	for _, c := range chords {
		list = append(list, c.Symbol())
	}
	return list
}

// Recorded gives the rig and the moments that a journal was written with.
func Recorded(h journal.Header) (gathering.Rig, []bed.Moment, error) {
	rig, err := gathering.ReadRig(h.Rig.Name, []byte(h.Rig.Text))
	if err != nil {
		return rig, nil, err
	}
	rig.Bed.First, rig.Setup = h.First, h.Setup
	if h.Stillness != nil {
		if !(*h.Stillness >= 0 && *h.Stillness <= 1) {
			return rig, nil, fmt.Errorf("stillness %v is out of range 0…1", *h.Stillness)
		}
		rig.Bed.Voicing.Stillness = *h.Stillness
	}
	rig.Bed.Songs = make([]bed.Song, len(h.Songs))
	for i, one := range h.Songs {
		if rig.Bed.Songs[i], err = recordedSong(one); err != nil {
			return rig, nil, fmt.Errorf("song %d: %w", i+1, err)
		}
	}
	moments := make([]bed.Moment, len(h.Moments))
	for i, m := range h.Moments {
		if moments[i], err = moment(m); err != nil {
			return rig, nil, fmt.Errorf("moment %d: %w", i+1, err)
		}
	}
	return rig, moments, nil
}

func moment(m journal.Moment) (bed.Moment, error) {
	key, err := pitch.ParseKey(m.Key)
	home, homeErr := chords(m.Home)
	away, awayErr := chords(m.Away)
	b := bed.Moment{Key: key, Home: home, Away: away, Intensity: m.Intensity, NextSong: m.NextSong}
	var endErr error
	if b.OwnEnding = m.Ending != ""; b.OwnEnding {
		b.Ending, endErr = harmony.ParseEnding(m.Ending)
	}
	if m.NextChord == "" {
		return b, errors.Join(err, homeErr, awayErr, endErr)
	}
	var keyErr, chordErr error
	b.NextKey, keyErr = pitch.ParseKey(m.NextKey)
	b.NextChord, chordErr = harmony.ParseChord(m.NextChord)
	return b, errors.Join(err, homeErr, awayErr, endErr, keyErr, chordErr)
}

func chords(symbols []string) ([]harmony.Chord, error) {
	var list []harmony.Chord
	for _, s := range symbols {
		c, err := harmony.ParseChord(s)
		if err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, nil
}

// RecordedPlan gives the words of the plan that a journal was written with, or nil
// where there was none.
func RecordedPlan(h journal.Header) *gathering.Gathering {
	g := &gathering.Gathering{Title: h.Title}
	any := h.Title != ""
	for _, one := range h.Songs {
		s, err := recordedSong(one)
		g.Songs = append(g.Songs, gathering.Song{Title: one.Title, Key: s.Key, First: s.First, Figure: s.Figure, NoKey: err != nil})
	}
	for _, m := range h.Moments {
		any = any || m.For != ""
		then := m.NextSong - 1
		if m.Song != "" && (then < 0 || then >= len(g.Songs)) { // a journal without songs
			key, _ := pitch.ParseKey(m.NextKey)
			first, _ := harmony.ParseChord(m.NextChord)
			g.Songs, then = append(g.Songs, gathering.Song{Title: m.Song, Key: key, First: first}), len(g.Songs)
		}
		g.Moments = append(g.Moments, gathering.Moment{For: m.For, Cue: m.Cue, Lasts: m.Lasts, Longest: m.Longest, After: then - 1, Then: min(then, len(g.Songs)-1)})
	}
	if !any {
		return nil
	}
	return g
}

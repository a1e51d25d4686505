package main

import (
	"fmt"
	"strings"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/voicing"

	"github.com/spf13/cobra"
)

// salvage loads as much of a plan as is sound, and notes what was left out.
func (m *material) salvage(cmd *cobra.Command, path string, library gathering.Library) error {
	g, faults, err := gathering.SalvageOpen(path, library)
	if err != nil {
		return badInput{err}
	}
	if faults != nil {
		m.left = strings.Split(faults.Error(), "\n")
	}
	if len(g.Moments) == 0 {
		m.left = append(m.left, path+": no moment is left of this plan: one without a plan stands in")
		m.first = ""
		return m.plain(cmd)
	}
	m.gathering, m.moments = &g, g.BedMoments()
	if m.rig.Bed.Songs, err = bedSongs(m.rig, &g, library); err != nil {
		return badInput{err}
	}
	if err := m.fit(path, library); err != nil {
		return badInput{err}
	}
	if m.rig.Bed.First, err = m.firstMoment(); err != nil && len(m.left) > 0 {
		m.left = append(m.left, err.Error()+": it begins with the first moment")
		m.rig.Bed.First, err = 0, nil
	}
	return err
}

// fit gives a moment whose chords the rig has no room for the library's first pair,
// and leaves out the songs' own beds where one has none.
func (m *material) fit(path string, library gathering.Library) error {
	e, err := voicing.New(m.rig.Bed.Voicing)
	if err != nil {
		return err
	}
	for i := range m.moments {
		b := &m.moments[i]
		narrow := fits(e, b)
		if narrow == nil {
			continue
		}
		pair, ok := library.First(b.Key.Minor)
		if !ok {
			return narrow
		}
		plain, err := gathering.Plain(b.Key, pair.Home, pair.Away, harmony.FromTonic)
		if err != nil {
			return err
		}
		b.Home, b.Away = plain.Home, plain.Away
		if fits(e, b) != nil {
			return narrow
		}
		m.left = append(m.left, fmt.Sprintf("%s:%d: %v; the bed %q stands in", path, m.gathering.Moments[i].Line, narrow, pair.Name))
	}
	for _, s := range m.rig.Bed.Songs {
		if narrow := fits(e, &bed.Moment{Key: s.Key, Home: s.Home, Away: s.Away}); narrow != nil {
			m.left = append(m.left, fmt.Sprintf("%s: %v; no song can be chosen", path, narrow))
			m.rig.Bed.Songs = nil
			break
		}
	}
	return nil
}

func fits(e *voicing.Engine, m *bed.Moment) error {
	if err := e.Fits(m.Home, m.Key); err != nil || len(m.Away) == 0 {
		return err
	}
	return e.Fits(m.Away, m.Key)
}

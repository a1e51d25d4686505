package soundcheck

import (
	"errors"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/session"
)

// The rows are what a session does: at every intensity that a bed is brought in with,
// and steps on, its density and register are those of the row that has the intensity.
func TestRowsAreWhatTheBedDoes(t *testing.T) {
	renders(t)
	for _, name := range []string{"default", "no-pedal"} {
		rig, err := gathering.OpenRig(name)
		if err != nil {
			t.Fatal(err)
		}
		rows := spans(&rig.Bed)
		m := plainMoment(t)
		lifted := rig.Bed.Voicing.High
		for x := 0.005; x < 1; x += 0.062 {
			m.Intensity = x
			s, err := session.New(rig, []bed.Moment{m}, new(session.Take))
			if err != nil {
				t.Fatal(err)
			}
			var row *Row
			for i := range rows {
				if x >= rows[i].From && x <= rows[i].To {
					row = &rows[i]
				}
			}
			if row == nil {
				t.Fatalf("%s: no row has intensity %v", name, x)
			}
			s.Ask(0, gathering.Order{Command: bed.BringIn})
			top := uint8(0)
			for i := range 4 {
				s.Ask(time.Duration(5*i+5)*time.Second, gathering.Order{Command: bed.Next})
				v := s.View()
				if v.Density != row.Voices {
					t.Errorf("%s: at intensity %v the bed has %d voices, the row %d", name, x, v.Density, row.Voices)
				}
				for n := uint8(127); n > 0; n-- {
					if p := v.Voicing.Pitches(); p.Has(n) {
						top = max(top, n)
						break
					}
				}
			}
			if top > lifted && !row.Lifted {
				t.Errorf("%s: at intensity %v the top note is %d, over the range, in a row that has not risen", name, x, top)
			}
		}
	}
}

func TestSharedSoundsAreRefused(t *testing.T) {
	rig, err := gathering.OpenRig("one-sound")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Beds(rig, []bed.Moment{plainMoment(t)}, nil, nil); !errors.Is(err, ErrShared) {
		t.Errorf("%v", err)
	}
	if _, err := Levels(rig, plainMoment(t), nil); !errors.Is(err, ErrShared) {
		t.Errorf("%v", err)
	}
}

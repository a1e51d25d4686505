package configs_test

import (
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"

	"bedd/configs"
	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// The files of this folder are all there is in the program, and each is of a
// kind that the tests below read.
func TestEveryFileIsBuiltInAndHasAHead(t *testing.T) {
	files, err := fs.Glob(os.DirFS("."), "*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("files: %v, %v", files, err)
	}
	for _, name := range files {
		data, err := configs.FS.ReadFile(name)
		if err != nil {
			t.Error(err)
		}
		if !strings.HasPrefix(string(data), "# ") {
			t.Errorf("%s does not say what it is for", name)
		}
		if !strings.HasPrefix(name, "rig-") && !strings.HasPrefix(name, "gathering-") && name != "progressions.yaml" && name != "feels.yaml" {
			t.Errorf("%s is read by nothing", name)
		}
	}
}

func rigs(t *testing.T) []gathering.Rig {
	t.Helper()
	var rigs []gathering.Rig
	for _, name := range gathering.RigNames() {
		rig, err := gathering.OpenRig(name)
		if err != nil {
			t.Fatal(err)
		}
		rigs = append(rigs, rig)
	}
	return rigs
}

func library(t *testing.T) gathering.Library {
	t.Helper()
	l, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestRigsHaveNamesOfTheirOwn(t *testing.T) {
	seen := map[string]bool{}
	for _, rig := range rigs(t) {
		if seen[rig.Name] {
			t.Errorf("two rigs are named %q", rig.Name)
		}
		seen[rig.Name] = true
	}
}

// reachable has what a rig's feet and keys can ask for, what they arm included.
func reachable(rig gathering.Rig) (asked [bed.NumCommands]bool) {
	for _, f := range rig.Feet {
		asked[f.Press.Command], asked[f.Tap.Command], asked[f.Hold.Command] = true, true, true
	}
	for _, o := range rig.Keys {
		asked[o.Command] = true
	}
	if asked[bed.Arm] {
		for _, c := range rig.Bed.Arms {
			asked[c] = true
		}
	}
	return asked
}

func TestEveryCommandIsReachable(t *testing.T) {
	all := reachable(gathering.DefaultRig())
	for c := bed.NoCommand + 1; c < bed.NumCommands; c++ {
		if !all[c] {
			t.Errorf("the default rig cannot ask for %v", c)
		}
	}
	tonics := 0
	for c := range pitch.Class(12) {
		for _, o := range gathering.DefaultRig().Keys {
			if o == (gathering.Order{Command: bed.KeyTo, Tonic: c}) {
				tonics++
			}
		}
	}
	if tonics != 12 {
		t.Errorf("the default rig's keys reach %d of 12 tonics", tonics)
	}
	// The main job in any rig: in, on, over to away, into the song, out.
	for _, rig := range rigs(t) {
		asked := reachable(rig)
		for _, c := range []bed.Command{bed.Step, bed.Swap, bed.Land, bed.FadeOut} {
			if !asked[c] {
				t.Errorf("%s cannot ask for %v", rig.Name, c)
			}
		}
		if !asked[bed.OutNow] && !asked[bed.AllNotesOff] {
			t.Errorf("%s has no emergency exit", rig.Name)
		}
	}
}

// Every press acts at once, so what a long press does must not come on top of
// a short one that was heard; leaving fast and then altogether is no surprise.
func TestNoLongPressFollowsAnAudibleShortOne(t *testing.T) {
	quiet := []bed.Command{bed.NoCommand, bed.Arm, bed.Stay}
	for _, rig := range rigs(t) {
		for _, f := range rig.Feet {
			if f.Hold.Command != bed.NoCommand && !slices.Contains(quiet, f.Press.Command) &&
				!(f.Press.Command == bed.OutNow && f.Hold.Command == bed.AllNotesOff) {
				t.Errorf("%s: %q held does %v after %v", rig.Name, f.Name, f.Hold, f.Press)
			}
		}
	}
}

// The pairs keep what their file says: home starts on the tonic, away has no
// chord on it, both are short, and every rig voices them in every key.
func TestPairsAreAsTheirFileSays(t *testing.T) {
	var moments []bed.Moment
	for _, p := range library(t) {
		for c := range 12 {
			key := pitch.Key{Minor: p.Minor}.Transpose(c)
			m, err := gathering.Plain(key, p.Home, p.Away, harmony.FromTonic)
			if err != nil {
				t.Errorf("%s in %v: %v", p.Name, key, err)
				continue
			}
			tonic := key.Tonic.Class()
			if m.Home[0].Root.Class() != tonic || len(m.Home) > 4 || len(m.Away) < 2 || len(m.Away) > 4 {
				t.Errorf("%s in %v: home %v, away %v", p.Name, key, m.Home, m.Away)
			}
			for _, chord := range m.Away {
				if chord.Root.Class() == tonic {
					t.Errorf("%s in %v: away has %v, the tonic", p.Name, key, chord)
				}
			}
			moments = append(moments, m)
		}
	}
	for _, rig := range rigs(t) {
		c := rig.Bed
		c.Moments = moments
		if _, err := bed.New(c); err != nil {
			t.Errorf("%s: %v", rig.Name, err)
		}
	}
	if first := library(t)[0]; first.Home != "1 4" || first.Away != "6m 2m" {
		t.Errorf("the first pair is %+v", first)
	}
}

func TestDemoGathering(t *testing.T) {
	g, err := gathering.OpenGathering("winter-lights", library(t))
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Songs) != 5 || len(g.Moments) != 5 {
		t.Errorf("%d songs, %d moments", len(g.Songs), len(g.Moments))
	}
	keys := map[pitch.Key]bool{}
	for _, s := range g.Songs {
		keys[s.Key] = true
	}
	if len(keys) != 5 {
		t.Errorf("songs are in %d keys", len(keys))
	}
	for _, rig := range rigs(t) {
		c := rig.Bed
		c.Moments = g.BedMoments()
		if _, err := bed.New(c); err != nil {
			t.Errorf("%s: %v", rig.Name, err)
		}
	}
}

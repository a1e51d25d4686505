// Command render measures bedd's built-in sound against FluidSynth's offline
// renderer with a General MIDI SoundFont: the same ten minutes of six pad voices
// under a sparse piano, to a 16-bit WAV file at 48 kHz, each in a process of its
// own, in turn, on one core and on all. It prints CPU times, the speed and how it
// falls with the number of voices, and fails when bedd takes more CPU time on one
// core.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"time"
)

// rounds is how often each side renders; the middle one counts.
const rounds = 3

func main() {
	font := flag.String("soundfont", "/usr/share/sounds/sf2/TimGM6mb.sf2", "the General MIDI SoundFont for FluidSynth")
	ours := flag.String("ours", "", "only render this MIDI file to out.wav beside it with bedd's sound")
	flag.Parse()
	err := error(nil)
	if *ours != "" {
		err = render(*ours, besides(*ours))
	} else {
		err = compare(*font)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "anchors:", err)
		os.Exit(1)
	}
}

func besides(midi string) string { return filepath.Join(filepath.Dir(midi), "out.wav") }

func compare(font string) error {
	for _, need := range []string{font} {
		if _, err := os.Stat(need); err != nil {
			return fmt.Errorf("%w: install a SoundFont (Debian: apt-get install fluidsynth timgm6mb-soundfont) or name one with -soundfont", err)
		}
	}
	if _, err := exec.LookPath("fluidsynth"); err != nil {
		return fmt.Errorf("%w (Debian: apt-get install fluidsynth timgm6mb-soundfont)", err)
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	folder, err := os.MkdirTemp("", "bedd-anchors-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	midi := filepath.Join(folder, "evening.mid")
	if err := writeEvening(midi); err != nil {
		return err
	}
	var theirs, ours, alls []usage
	for range rounds {
		their, err := measure(besides(midi), nil, "fluidsynth", "-n", "-i", "-q", "-r", strconv.Itoa(rate), "-O", "s16", "-T", "wav", "-F", besides(midi), font, midi)
		if err != nil {
			return err
		}
		our, err := measure(besides(midi), []string{"GOMAXPROCS=1"}, self, "-ours", midi)
		if err != nil {
			return err
		}
		all, err := measure(besides(midi), nil, self, "-ours", midi)
		if err != nil {
			return err
		}
		theirs, ours, alls = append(theirs, their), append(ours, our), append(alls, all)
	}
	their, our, all := middle(theirs), middle(ours), middle(alls)
	fmt.Printf("\n%d minutes of six pad voices and a sparse piano to WAV, the middle of %d by CPU time:\n", minutes, rounds)
	for _, row := range []struct {
		name string
		usage
	}{{"FluidSynth", their}, {"bedd, one core", our}, {fmt.Sprintf("bedd, %d cores", runtime.NumCPU()), all}} {
		fmt.Printf("%-16s%7.2f s of CPU, %4.0f times real time; took %7.2f s, %4.0f times; %4d MiB\n", row.name,
			row.cpu.Seconds(), minutes*60/row.cpu.Seconds(), row.took.Seconds(), minutes*60/row.took.Seconds(), row.memory>>20)
	}
	fmt.Println()
	if err := growth(); err != nil {
		return err
	}
	if our.cpu > their.cpu {
		return errors.New("bedd's sound takes more CPU time than FluidSynth")
	}
	return nil
}

// usage is what one rendering took.
type usage struct {
	cpu, took time.Duration
	memory    int64 // bytes, the most
}

func middle(of []usage) usage {
	slices.SortFunc(of, func(a, b usage) int { return int(a.cpu - b.cpu) })
	return of[len(of)/2]
}

// measure runs a renderer, with settings added to the environment, and checks
// that it left about the sound it should.
func measure(wav string, settings []string, name string, args ...string) (usage, error) {
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), settings...)
	start := time.Now()
	if told, err := cmd.CombinedOutput(); err != nil {
		return usage{}, fmt.Errorf("%s: %w\n%s", name, err, told)
	}
	took := time.Since(start)
	info, err := os.Stat(wav)
	if err != nil {
		return usage{}, err
	}
	if least := int64(minutes * 60 * rate * 4); info.Size() < least || info.Size() > least+30*rate*4 {
		return usage{}, fmt.Errorf("%s left %d bytes of sound, want about %d", name, info.Size(), least)
	}
	return usage{cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime(), took, maxMemory(cmd.ProcessState)}, nil
}

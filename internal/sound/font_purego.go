//go:build cgo && (linux || darwin)

package sound

import (
	"fmt"
	"runtime"
	"unsafe"

	"github.com/ebitengine/purego"
)

// fluidNames are the files of FluidSynth's library, version 2 of its interface.
func fluidNames() []string {
	if runtime.GOOS == "darwin" {
		const name = "libfluidsynth.3.dylib"
		return []string{name, "/opt/homebrew/lib/" + name, "/usr/local/lib/" + name}
	}
	return []string{"libfluidsynth.so.3", "libfluidsynth.so.2"}
}

// fluid is a synth of FluidSynth's. Its functions are called by their addresses,
// which allocates once a call.
type fluid struct {
	settings, synth                                             uintptr
	noteOn, noteOff, cc, program, bend, pressure, keyPressure   uintptr
	writeFloat, deleteSynth, deleteSettings, newSynth, loadFont uintptr
}

// openLibrary loads the first of some libraries that is there.
func openLibrary(names []string) (library uintptr, err error) {
	for _, name := range names {
		if library, err = purego.Dlopen(name, purego.RTLD_NOW|purego.RTLD_LOCAL); err == nil {
			return library, nil
		}
	}
	return 0, ErrNoFluidSynth
}

// openPlayer loads the library and a SoundFont.
func openPlayer(path string, rate int) (player, error) {
	library, err := openLibrary(fluidNames())
	if err != nil {
		return nil, err
	}
	f := new(fluid)
	var newSettings, setNumber, setLog uintptr
	for name, to := range map[string]*uintptr{
		"new_fluid_settings": &newSettings, "fluid_settings_setnum": &setNumber, "fluid_set_log_function": &setLog,
		"new_fluid_synth": &f.newSynth, "fluid_synth_sfload": &f.loadFont, "fluid_synth_write_float": &f.writeFloat,
		"fluid_synth_noteon": &f.noteOn, "fluid_synth_noteoff": &f.noteOff, "fluid_synth_cc": &f.cc,
		"fluid_synth_program_change": &f.program, "fluid_synth_pitch_bend": &f.bend,
		"fluid_synth_channel_pressure": &f.pressure, "fluid_synth_key_pressure": &f.keyPressure,
		"delete_fluid_synth": &f.deleteSynth, "delete_fluid_settings": &f.deleteSettings,
	} {
		if *to, err = purego.Dlsym(library, name); err != nil {
			return nil, fmt.Errorf("FluidSynth's library is of another version, it has no %s: %w", name, ErrNoFluidSynth)
		}
	}
	for level := range uintptr(5) { // its complaints would land on the player's screen
		purego.SyscallN(setLog, level, 0, 0)
	}
	f.settings, _, _ = purego.SyscallN(newSettings)
	var number func(settings uintptr, name string, value float64) int32
	purego.RegisterFunc(&number, setNumber)
	number(f.settings, "synth.sample-rate", float64(rate))
	number(f.settings, "synth.gain", fontGain)
	if f.synth, _, _ = purego.SyscallN(f.newSynth, f.settings); f.synth == 0 {
		f.close()
		return nil, fmt.Errorf("FluidSynth does not start at %d Hz", rate)
	}
	name := append([]byte(path), 0)
	id, _, _ := purego.SyscallN(f.loadFont, f.synth, uintptr(unsafe.Pointer(&name[0])), 1)
	runtime.KeepAlive(name)
	if int32(id) < 0 {
		f.close()
		return nil, fmt.Errorf("%s: FluidSynth cannot read it as a SoundFont", path)
	}
	return f, nil
}

func (f *fluid) send(status, data1, data2 byte) {
	channel, a, b := uintptr(status&0x0F), uintptr(data1), uintptr(data2)
	switch status & 0xF0 {
	case 0x80:
		purego.SyscallN(f.noteOff, f.synth, channel, a)
	case 0x90:
		purego.SyscallN(f.noteOn, f.synth, channel, a, b)
	case 0xA0:
		purego.SyscallN(f.keyPressure, f.synth, channel, a, b)
	case 0xB0:
		purego.SyscallN(f.cc, f.synth, channel, a, b)
	case 0xC0:
		purego.SyscallN(f.program, f.synth, channel, a)
	case 0xD0:
		purego.SyscallN(f.pressure, f.synth, channel, a)
	case 0xE0:
		purego.SyscallN(f.bend, f.synth, channel, b<<7|a)
	}
}

// write fills both sides, which lie on the heap, in a Font.
func (f *fluid) write(left, right []float32) {
	purego.SyscallN(f.writeFloat, f.synth, uintptr(len(left)),
		uintptr(unsafe.Pointer(&left[0])), 0, 1, uintptr(unsafe.Pointer(&right[0])), 0, 1)
	runtime.KeepAlive(left)
	runtime.KeepAlive(right)
}

func (f *fluid) close() {
	if f.synth != 0 {
		purego.SyscallN(f.deleteSynth, f.synth)
	}
	purego.SyscallN(f.deleteSettings, f.settings)
}

package listening_test

import (
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"bedd/internal/listening/talks"
	"bedd/internal/sound"
)

// prompts is where Debian's package asterisk-core-sounds-en-wav puts prompts that a
// person has spoken for telephones (Allison Smith, CC BY-SA 3.0). Nothing was tuned to
// them.
const prompts = "/usr/share/asterisk/sounds/en_US_f_Allison"

// says has some longer ones, and how many syllables they are by espeak-ng's phonemes
// for the text that the package asterisk-core-sounds-en gives.
var says = map[string]int{
	"basic-pbx-ivr-main": 97, "conf-adminmenu-162": 66, "demo-congrats": 122, "demo-instruct": 301,
	"demo-moreinfo": 55, "priv-callee-options": 106, "screen-callee-options": 65, "vm-options": 59,
}

func prompt(t *testing.T, name string) (samples []float32, rate int) {
	t.Helper()
	f, err := os.Open(filepath.Join(prompts, name+".wav"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := sound.NewWAVReader(f)
	if err != nil {
		t.Fatal(err)
	}
	buffer := make([]float32, 2*4096)
	for {
		n, err := r.Read(buffer)
		for i := range n {
			samples = append(samples, (buffer[2*i]+buffer[2*i+1])/2)
		}
		if err == io.EOF {
			return samples, r.Rate()
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func TestAPersonSpeaks(t *testing.T) {
	minutesOfSound(t)
	if _, err := os.Stat(prompts); err != nil {
		t.Skip("a person's speech is in Debian's package asterisk-core-sounds-en-wav: install it")
	}
	t.Parallel()
	for _, noise := range []float64{none, -10} {
		right, all := 0, 0
		for name, syllables := range says {
			samples, rate := prompt(t, name)
			clean := talks.Talk{Rate: rate, Samples: samples}
			truth, speaks := spoken(clean), speaking(clean)
			heard := listens(t, rate, noisier(clean, noise), nil)
			now, sum, n := 0, 0.0, 0.0
			for k, f := range heard {
				if f.Voice == truth[k] {
					now++
				}
				if f.Voice && f.Syllables > 0 {
					sum, n = sum+f.Syllables, n+1
				}
			}
			got, want := sum/n, float64(syllables)/speaks
			t.Logf("%-22s noise %v dB: %.1f %% of frames right, %.2f syllables/s, said %.2f (%+.0f %%)", name, noise,
				100*float64(now)/float64(len(heard)), got, want, 100*(got/want-1))
			if !(math.Abs(got/want-1) <= 0.15) {
				t.Errorf("%s, noise %v dB: %.2f syllables a second, want %.2f ± 15 %%", name, noise, got, want)
			}
			right, all = right+now, all+len(heard)
		}
		part := float64(right) / float64(all)
		t.Logf("noise %v dB: %.1f %% of frames right", noise, 100*part)
		if part < 0.95 {
			t.Errorf("noise %v dB: %.1f %% of frames right, want 95", noise, 100*part)
		}
	}
}

// noisier adds pink noise, in dB against the speech without its pauses.
func noisier(clean talks.Talk, dB float64) []float32 {
	out, power, n, block := append([]float32(nil), clean.Samples...), 0.0, 0.0, clean.Rate/100
	for i, on := range voiced(clean) {
		for _, x := range clean.Samples[i*block : (i+1)*block] {
			if on {
				power, n = power+float64(x)*float64(x), n+1
			}
		}
	}
	gain := math.Sqrt(power/n) * math.Pow(10, dB/20) / 0.1 // the noise comes with 0.1
	for i, x := range talks.Pink(len(out), 8) {
		out[i] += float32(gain) * x
	}
	return out
}

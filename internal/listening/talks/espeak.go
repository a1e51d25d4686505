package talks

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os/exec"
	"strconv"
	"strings"
	"sync"
)

// Rate is espeak-ng's, in Hz.
const Rate = 22050

// said keeps what was said and counted, by how it was asked for.
var said = struct {
	sync.Mutex
	samples   map[string][]float32
	syllables map[string]int
}{samples: map[string][]float32{}, syllables: map[string]int{}}

// Speak lets espeak-ng say a text with its settings -v, -s (80…450), -p (0…99) and -a
// (0…200), rounded and kept in range, and counts the syllables. What was said once is
// kept; it must not be written to.
func Speak(voice string, words, pitch, amplitude float64, text string) (samples []float32, syllables int, err error) {
	whole := func(x, low, high float64) string { return strconv.Itoa(int(math.Round(min(max(x, low), high)))) }
	args := []string{"-v", voice, "-s", whole(words, 80, 450), "-p", whole(pitch, 0, 99), "-a", whole(amplitude, 0, 200), "-z"}
	said.Lock()
	defer said.Unlock()
	spoken, counted := strings.Join(append(args, text), " "), voice+" "+text
	samples, ok := said.samples[spoken]
	if !ok {
		wav, err := espeak(append(args, "--stdout", text)...)
		if err != nil {
			return nil, 0, err
		}
		if samples, err = decode(wav); err != nil {
			return nil, 0, err
		}
		said.samples[spoken] = samples
	}
	if syllables, ok = said.syllables[counted]; !ok {
		phonemes, err := espeak("-v", voice, "-q", "--ipa", "--sep=_", text)
		if err != nil {
			return nil, 0, err
		}
		syllables = vowels(string(phonemes))
		said.syllables[counted] = syllables
	}
	return samples, syllables, nil
}

func espeak(args ...string) ([]byte, error) {
	out, err := exec.Command("espeak-ng", args...).Output()
	var exit *exec.ExitError
	switch {
	case errors.Is(err, exec.ErrNotFound):
		return nil, errors.New("a talk needs the program espeak-ng: run scripts/install")
	case errors.As(err, &exit):
		return nil, fmt.Errorf("espeak-ng %q: %v: %s", args, err, bytes.TrimSpace(exit.Stderr))
	}
	return out, err
}

// vowels counts the phonemes that carry a syllable, in the International Phonetic
// Alphabet: vowels and diphthongs, and consonants marked as syllabic (U+0329).
func vowels(phonemes string) (n int) {
	for _, p := range strings.FieldsFunc(phonemes, func(r rune) bool { return r == '_' || r == ' ' || r == '\n' }) {
		if strings.ContainsAny(p, "aeiouyᵻæɐɑɒɔəɚɛɜɝɪɨɵøœʉʊʌ\u0329") {
			n++
		}
	}
	return n
}

// decode reads a WAV file as espeak-ng writes it into a pipe: one channel of 16 bits,
// without a length that could be relied on.
func decode(wav []byte) ([]float32, error) {
	at := bytes.Index(wav, []byte("data"))
	if len(wav) < 36 || at < 36 || at+8 > len(wav) || string(wav[:4]) != "RIFF" ||
		binary.LittleEndian.Uint16(wav[22:]) != 1 || binary.LittleEndian.Uint16(wav[34:]) != 16 ||
		binary.LittleEndian.Uint32(wav[24:]) != Rate {
		return nil, fmt.Errorf("espeak-ng gave %d bytes that are no WAV file of one channel, 16 bits and %d Hz", len(wav), Rate)
	}
	data := wav[at+8:]
	samples := make([]float32, len(data)/2)
	for i := range samples {
		samples[i] = float32(int16(binary.LittleEndian.Uint16(data[2*i:]))) / 32768
	}
	return samples, nil
}

// texts are invented, as are the town and its people.
var texts = []string{
	"We had one lamp that winter, and it stood in the window of the net loft.",
	"Nobody in Saltmere had planned for a storm in the second week of the fair.",
	"My grandmother carried the kettle down to the quay, and the whole street followed her.",
	"The wind took the harbour wall at four in the morning.",
	"You could hear the ropes before you could see the boats.",
	"Somebody began to ring the bell of the ferry house.",
	"There was no light on the water at all.",
	"So they brought what they had: candles, a bicycle lamp, a lantern from the school.",
	"One after another they put them on the stones, all along the edge.",
	"And out there, behind the rain, a boat turned its head.",
	"I have asked Oskar many times what he saw from the deck.",
	"He says he saw a road.",
	"A road made of small yellow lights, and at the end of it his own front door.",
	"Eleven people came home over that road.",
	"Not one of them was missing when the morning came.",
	"We do not light the lanterns because we are afraid of the sea.",
	"We light them because someone out there may be looking for the way.",
	"Perhaps you came here tonight without knowing why.",
	"Perhaps you only followed the smell of the soup.",
	"You are welcome all the same, and there is a place for you at the table.",
	"The baskets at the door are for the lifeboat shed, which needs a new roof.",
	"Last year we mended the engine with what you gave.",
	"The year before, it was four coats and a radio.",
	"It is never much, and it has always been enough.",
	"Take a candle from the box when you go down the stairs.",
	"Shield it with your hand, because the corner by the bakery is windy.",
	"Walk slowly, and wait for whoever walks behind you.",
	"At the water we will be quiet for a minute.",
	"Then Maud will sing the first line, and all of us will answer.",
	"That is how it was done in the beginning, and that is how we do it now.",
}

.PHONY: play test test-alsa bench-alsa bench-page test-page screenshots lint race bench bench-anchors build install clean

# Plays the demo: an invented player at the piano, in real time.
play: build
	@mkdir -p out
	./bedd play winter-lights --rig saltmere --player testdata/winter-lights.mid --midi out/winter-lights.mid --wav out/winter-lights.wav

build: install
	@echo "building bedd; the sound and MIDI libraries take up to two minutes the first time"
	@scripts/ticking go build -o bedd ./cmd/bedd

test: install
	@echo "testing; the sound and MIDI libraries take up to two minutes to compile the first time"
	go test ./...

# The tests that need a real ALSA sequencer, in a virtual machine where there is
# none. Takes minutes.
test-alsa:
	@scripts/test-alsa

# Latency there: the kernel's own route, programs in C, the drivers, bedd.
bench-alsa:
	@scripts/test-alsa -test.run MeasureLatency

# How late a key's note comes while the page is read and beset, by a clock that
# counts instructions. Takes some ten minutes.
bench-page:
	@scripts/bench-page

# The page, a review's page and printed charts in Chromium, with axe-core: layout,
# pairing, orders, reconnecting, accessibility, and how soon a chord shows.
test-page:
	@scripts/test-page

# The README's pictures, made anew.
screenshots:
	@scripts/screenshots

lint: install
	@test -z "$$(gofmt -l .)" || { echo "not gofmt-clean:"; gofmt -l .; exit 1; }
	go vet ./...
	CGO_ENABLED=0 go vet ./...
	go tool staticcheck ./...

race: install
	go test -race -timeout 30m ./...

bench: install
	go test -run '^$$' -bench . -benchmem ./...

# The voicing search against an independent library (needs Node) and the sound
# against FluidSynth (needs it and a SoundFont); fails where bedd does worse.
bench-anchors: install
	@scripts/anchors/bench

install:
	@scripts/install

clean:
	rm -rf bedd out

"""Prints what sounds how long in traditional tunes that Debian packages carry as
examples, with the key that each file names: package, tune, key, and for each pitch
class from C up the quarter notes it sounds in all. Run by scripts/anchors/songs,
which gives the folder where the packages are unpacked under tunes/."""

import glob
import os
import re
import subprocess
import sys
import zipfile

import mido

work = sys.argv[1]

# The ABC files of abcmidi and abcm2ps, by the numbers of the tunes: those of a major
# or minor key that are traditional or by composers long dead.
ABC = {
    "abcmidi": {"demo.abc": [2, 3, 4, 5, 6, 8, 10, 12], "boys.abc": [3], "coleraine.abc": [8], "dergasn.abc": [145]},
    "abcm2ps": {"accordion.abc": [3, 51], "sample5.abc": [2, 3], "voices.abc": [2, 3, 4, 6]},
}
# The pieces of pianobooster's books whose pages or files name their key.
BOOSTER = {
    "01-ClairDeLaLune": "C", "02-LavendersBlue": "C", "03-SkipToMyLou": "C",
    "04-FrereJacques": "C", "07-AmazingGrace": "F",
}


def weights(path):
    sums = [0.0] * 12
    song = mido.MidiFile(path)
    for track in song.tracks:
        tick, down = 0, {}
        for event in track:
            tick += event.time
            if event.type not in ("note_on", "note_off") or event.channel == 9:
                continue
            key = (event.channel, event.note)
            if key in down:
                sums[event.note % 12] += (tick - down.pop(key)) / song.ticks_per_beat
            if event.type == "note_on" and event.velocity > 0:
                down[key] = tick
    return sums


def row(package, title, key, sums):
    print("\t".join([package, title, key] + ["%.2f" % s for s in sums]))


def version(package):
    deb = glob.glob(os.path.join(work, package + "_*.deb"))[0]
    return subprocess.check_output(["dpkg-deb", "-f", deb, "Version"], text=True).strip()


packages = list(ABC) + ["pianobooster"]
print("# package, tune, key that its file names, quarter notes of each pitch class from C up; of " +
      ", ".join(p + " " + version(p) for p in packages) + " (Debian), as python3-mido reads them")
for package, files in ABC.items():
    for name, numbers in files.items():
        path = os.path.join(work, "tunes/usr/share/doc", package, "examples", name)
        with open(path, encoding="utf-8", errors="replace") as f:
            text = f.read()
        for number in numbers:
            tune = re.search(r"^X: *%d *\n(.*?)(?=^X:|\Z)" % number, text, re.M | re.S).group(1)
            title = re.search(r"^T: *(.*?) *$", tune, re.M).group(1)
            key = re.search(r"^K: *([A-G][b#]?(?:m(?:in(?:or)?)?)?)\b", tune, re.M).group(1)
            key = re.sub("m(in(or)?)?$", "m", key)
            out = os.path.join(work, "tune.mid")
            subprocess.run(["abc2midi", path, str(number), "-NGUI", "-o", out], stdout=subprocess.DEVNULL, check=False)
            row(package, title, key, weights(out))
            os.remove(out)
books = zipfile.ZipFile(os.path.join(work, "tunes/usr/share/games/pianobooster/music/BoosterMusicBooks.zip"))
for entry in sorted(books.namelist()):
    name = os.path.basename(entry)[:-4]
    if "Booster Music/" in entry and name in BOOSTER:
        row("pianobooster", name[3:], BOOSTER[name], weights(books.extract(entry, work)))

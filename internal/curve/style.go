package curve

// style is drawn for paper and a light screen; a dark screen has its own colours,
// paper never. Colours are those of Okabe and Ito, "Color Universal Design"
// (2008), which the colour-blind can tell apart, some darker or lighter for
// contrast; each line has its own dashes as well.
const style = `
text{font:11px system-ui,"DejaVu Sans",sans-serif;fill:#222}
path{fill:none;stroke-width:1.6;stroke-linejoin:round}
.paper{fill:#fff}
.silence{fill:#000;fill-opacity:.05}
.heading{font-size:17px;font-weight:600}
.sum,.note,.side,.at{fill:#666}
.side{text-anchor:end}
.at{text-anchor:middle}
.strong{fill:#222;font-weight:600}
.chord{font-weight:600}
.said{font-style:italic;fill:#666}
.tick{stroke:#888;stroke-width:1}
.axis{stroke:#888;stroke-width:1}
.grid{stroke:#000;stroke-opacity:.1;stroke-width:1}
.comes{stroke:#000;stroke-opacity:.22;stroke-width:1}
path[class^=from-]{stroke:#888;stroke-width:2.4}
path.from-moment{stroke:#009e73;stroke-dasharray:1.5 3}
path.from-listening{stroke:#7a6a00;stroke-dasharray:4 3}
path.from-playing{stroke:#d55e00;stroke-dasharray:7 3}
path.from-foot{stroke:#0072b2}
path.from-stay{stroke:#a8508a;stroke-dasharray:10 3 2 3}
path.from-ceiling{stroke:#222;stroke-dasharray:14 2}
path.silent{stroke-opacity:.35}
.strip{stroke:none;fill:#888;fill-opacity:.35}
.strip.from-moment{fill:#009e73}
.strip.from-listening{fill:#7a6a00}
.strip.from-playing{fill:#d55e00}
.strip.from-foot{fill:#0072b2}
.strip.from-stay{fill:#a8508a}
.strip.from-ceiling{fill:#222}
.inside{text-anchor:middle}
.pedal{stroke:#777;stroke-width:1}
.strikes{stroke:#555;stroke-width:1}
.voices{stroke:#222;stroke-width:2.4}
.warm{stroke:#b45309;stroke-width:2}
.air{stroke:#0284a8;stroke-width:2;stroke-dasharray:8 2}
@media screen and (prefers-color-scheme:dark){
text,.strong{fill:#ddd}
.paper{fill:#15181b}
.silence{fill:#fff}
.sum,.note,.side,.at,.said{fill:#9aa0a6}
.grid,.comes{stroke:#fff}
path.from-moment{stroke:#2bc79b}
path.from-listening{stroke:#f0e442}
path.from-playing{stroke:#f08a3c}
path.from-foot{stroke:#56b4e9}
path.from-stay{stroke:#d98fbf}
path.from-ceiling{stroke:#ddd}
.pedal{stroke:#999}
.strikes{stroke:#aaa}
.voices{stroke:#ddd}
.warm{stroke:#e69f00}
.air{stroke:#5cc8ea}
}
`

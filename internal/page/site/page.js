// The glance in a browser: takes models as server-sent events and puts them in
// their places. What it sends are orders, by the names that a rig uses.
const at = (id) => document.getElementById(id);
const body = document.body;

// lost is how long nothing may come before the page says so: bedd sends several
// models a second, whatever happens.
const lost = 2000;

let stream = null;
let heard = performance.now();
let tried = -Infinity;
let version = null;
let settings = { show: "stage", transpose: "0" };

// put changes a text only where it differs, and leaves readers in peace.
function put(id, text) {
	if (at(id).textContent !== text) at(id).textContent = text;
}

// pretty writes accidentals as musicians do; spoken as they say them.
const pretty = (s) => s
	.replace(/(^|\/)([A-G])(b+|#+)/g, (_, before, letter, signs) => before + letter + signs.replaceAll("b", "♭").replaceAll("#", "♯"))
	.replace(/b(?=\d)/g, "♭").replace(/#(?=\d)/g, "♯");
const spoken = (s) => pretty(s).replaceAll("♭", " flat ").replaceAll("♯", " sharp ").replaceAll("/", " over ").replace(/\s+/g, " ").trim();

const minutes = (seconds) => {
	const whole = Math.floor(seconds);
	return Math.floor(whole / 60) + ":" + String(whole % 60).padStart(2, "0");
};

// The marks by shape, as on the terminal.
const shapes = { held: "●", moved: "◆", safe: "·" };

function show(m) {
	body.dataset.sounds = m.sounds ? "yes" : "no";
	put("title", m.title || "bedd");
	const moved = settings.transpose !== "0";
	put("key", moved ? `you read in ${pretty(m.fingers)}, it sounds in ${pretty(m.key)}`
		: m.fingers ? `sounds in ${pretty(m.key)}, hands in ${pretty(m.fingers)}` : `key ${pretty(m.key)}`);
	showTime(m);
	showChords(m);
	showPlan(m);
	showNotes(m);
	const percent = Math.round(100 * m.intensity);
	const gauge = at("gauge");
	at("full").style.width = percent + "%";
	gauge.setAttribute("aria-valuenow", percent);
	gauge.setAttribute("aria-valuetext", `${percent} percent, ${m.source}`);
	put("phase", `${m.phase}, ${percent} %, ${m.source}, ${m.voices} voices`);
	at("stay").hidden = !m.stay;
	at("follow").hidden = !m.follow;
	for (const name of ["stay", "follow"]) {
		document.querySelector(`[data-order=${name}]`).setAttribute("aria-pressed", String(m[name]));
	}
	showLinks(m.links || []);
	put("hears", m.hears || "");
	put("foot", m.foot ? `last: ${m.foot}, ${minutes(m.foot_at)} ago` : "");
	put("news", (m.news || []).at(-1) || "");
}

function showTime(m) {
	const over = m.longest ? m.elapsed > m.longest : m.lasts > 0 && m.elapsed > m.lasts;
	put("this", m.sounds ? `on this ${minutes(m.on_this)}` : "");
	put("time", minutes(m.elapsed) + (m.lasts ? " of " + minutes(m.lasts) : "") + (over ? " over" : ""));
	at("time").classList.toggle("over", Boolean(over));
}

function showChords(m) {
	const before = at("chord").textContent + at("next").textContent;
	put("chord", pretty(m.chord));
	put("next", pretty(m.next));
	put("degree", pretty(m.degree));
	put("step", settings.show === "reading" || m.choice ? "then" : `left foot: ${m.step} ▸`);
	if (at("chord").textContent + at("next").textContent !== before) fit();
	put("leads", m.choice ? takes(m.choice) : `${m.step} ▸ ${pretty(m.next)}`);
	const words = [m.sounds ? `${spoken(m.chord)}, then ${spoken(m.next)}` : `silent; ${spoken(m.chord)} is next`];
	if (m.choice) words.push("step takes the " + takes(m.choice).replace("take ", "").replace("▸", "").replaceAll("♭", " flat ").replaceAll("♯", " sharp "));
	if (m.prompt) words.push(m.prompt.replace(/ in \d+:\d\d$/, " soon")); // not anew each second
	put("said", words.join("; ").replace(/\s+/g, " ").trim());
}

// answer writes one answer of a choice, by its place: keys with their accidentals,
// titles as they are, those that were used in brackets.
function answer(choice, i) {
	const text = choice.what === "key" ? pretty(choice.answers[i])
		: choice.answers[i].replace(/ in ([A-G])([b#])(m?)$/, (_, letter, sign, minor) => ` in ${letter}${sign === "b" ? "♭" : "♯"}${minor}`);
	return (choice.used || []).includes(i) ? `(${text})` : text;
}

const takes = (choice) => `take ${choice.what} ▸ ${answer(choice, choice.at)}`;

// listed is how many letters of the further answers are listed; the others are a
// press of arm away.
const listed = 60;

// showPlan shows the way into the song, what is being chosen, and what it is time
// for, in the terminal's words.
function showPlan(m) {
	const way = m.landing || [];
	const ahead = way.length > 1 && (m.lands || m.step === "land" || m.step === "land-through") ? ["the way: " + way.map(pretty).join(" ")] : [];
	put("way", [...ahead, ...(m.walks ? ["by itself"] : [])].join(", "));
	put("prompt", m.prompt ? "time: " + m.prompt : "");
	const c = m.choice;
	at("choice").hidden = !c;
	body.dataset.choosing = c ? "yes" : "no";
	if (c) {
		const sounding = settings.transpose !== "0" ? ", as it sounds" : "";
		put("takes", `left foot: ${takes(c)}${sounding}`);
		let others = "";
		for (let i = 1; i < c.answers.length; i++) {
			const next = answer(c, (c.at + i) % c.answers.length);
			if (i > 1 && others.length + next.length > listed) {
				others += " …";
				break;
			}
			others += (i > 1 ? "  " : "") + next;
		}
		put("others", `arm: the next one${others ? ", " + others : ""}`);
	}
	showSongs(m.songs || []);
}

let planned = "[]";
function showSongs(songs) {
	const all = JSON.stringify(songs);
	if (all === planned) return;
	planned = all;
	at("plan").hidden = songs.length === 0;
	at("songs").replaceChildren(...songs.map((song) => {
		const e = document.createElement("li");
		e.className = song.next ? "next" : song.used ? "used" : "";
		const name = song.title + (song.key ? " in " + pretty(song.key) : "");
		e.textContent = (song.next ? "▸ " : "") + (song.used ? `(${name}) used` : name) + (song.next ? ", next" : "");
		return e;
	}));
}

// fit makes the chords as large as their place allows, one above the other or side
// by side: the next one about half as high as the one that sounds.
function fit() {
	const above = fitAs(false);
	if (fitAs(true) < above) fitAs(false);
}

// fitAs gives how high the chord becomes, in pixels.
function fitAs(wide) {
	const box = at("chords");
	box.classList.toggle("wide", wide);
	const half = wide ? 0.6 : 0.5;
	const lines = at("degree").offsetHeight + (wide ? 0 : at("step").offsetHeight);
	const tall = Math.max((box.clientHeight - lines) / (1.15 * (wide ? 1 : 1 + half)), 16);
	return Math.min(...[["chord", tall], ["next", half * tall]].map(([id, size]) => {
		const name = at(id);
		name.style.fontSize = size + "px";
		const share = name.clientWidth / name.scrollWidth;
		if (share < 1) name.style.fontSize = 0.99 * share * size + "px";
		return id === "chord" ? Math.min(share, 1) * size : Infinity;
	}));
}
new ResizeObserver(fit).observe(at("chords"));

// The keyboard. It grows where notes lie outside, and never shrinks.
const svg = "http://www.w3.org/2000/svg";
const places = [0, 0.5, 1, 1.5, 2, 3, 3.5, 4, 4.5, 5, 5.5, 6]; // of a white key's width
const black = (note) => [1, 3, 6, 8, 10].includes(note % 12);
const place = (note, lowest) => (Math.floor((note - lowest) / 12) * 7 + places[note % 12]) * 10;
let range = [36, 84];
let drawn = "";

function part(name, className, values, text) {
	const e = document.createElementNS(svg, name);
	e.setAttribute("class", className);
	for (const [key, value] of Object.entries(values)) e.setAttribute(key, value);
	if (text) e.textContent = text;
	return e;
}

function mark(note, lowest) {
	const x = place(note.number, lowest) + 5;
	const y = black(note.number) ? 18 : 34;
	if (note.mark === "moved") return part("path", "moved", { d: `M${x} ${y - 4.4}l4 4.4-4 4.4-4-4.4z` });
	return part("circle", note.mark, { cx: x, cy: y, r: note.mark === "held" ? 3.2 : 1.6 });
}

function showNotes(m) {
	const notes = m.notes || [];
	const all = JSON.stringify([notes, m.missing]);
	if (all === drawn) return;
	drawn = all;
	for (const n of notes) {
		range = [Math.min(range[0], n.number - n.number % 12), Math.max(range[1], n.number + 12 - n.number % 12)];
	}
	const [lowest, above] = range;
	const keys = at("keys");
	keys.setAttribute("viewBox", `-0.5 -0.5 ${(above - lowest) / 12 * 70 + 1} 47`);
	const parts = { white: [], black: [], octave: [] };
	for (let n = lowest; n < above; n++) {
		const x = place(n, lowest);
		if (black(n)) parts.black.push(part("rect", "black", { x: x + 2, y: 0, width: 6, height: 24 }));
		else parts.white.push(part("rect", "white", { x, y: 0, width: 10, height: 40 }));
		if (n % 12 === 0) parts.octave.push(part("text", "octave", { x: x + 1, y: 45 }, "C" + (n / 12 - 1)));
	}
	keys.replaceChildren(...parts.white, ...parts.black, ...parts.octave, ...notes.map((n) => mark(n, lowest)));
	const named = (kind) => notes.filter((n) => n.mark === kind).map((n) => pretty(n.name)).join(" ") || "none";
	keys.setAttribute("aria-label", `Keyboard. Held: ${named("held")}. Moved: ${named("moved")}. Safe for the right hand: ${named("safe")}.`);
	at("notes").replaceChildren(...notes.filter((n) => n.mark !== "safe").map((n) => word(n.mark, shapes[n.mark] + pretty(n.name))),
		...(m.missing ? [word("lacks", "no " + m.missing.map(pretty).join(" "))] : []));
}

function word(className, text) {
	const e = document.createElement("span");
	e.className = className;
	e.textContent = text;
	return e;
}

let linked = "";
function showLinks(links) {
	const all = JSON.stringify(links);
	if (all === linked) return;
	linked = all;
	at("links").replaceChildren(...links.map((l) => {
		const e = document.createElement("li");
		e.className = l.up ? "up" : "down";
		const name = l.up ? l.name : `✕ ${l.name} LOST`;
		e.textContent = l.way === "out" ? "▸ " + name : name + " ▸";
		return e;
	}));
}

// The link to bedd. Whatever ends it, the page tries again by itself.
function linkIs(state, words) {
	body.dataset.link = state;
	put("trouble", words);
}

async function connect() {
	tried = performance.now();
	stream?.close();
	stream = null;
	const about = await fetch("about", { signal: AbortSignal.timeout(lost) }).catch(() => null);
	if (about?.status === 401) return location.replace("/pair");
	if (!about?.ok) return;
	const says = await about.json();
	if (version !== null && version !== says.version) return location.reload();
	version = says.version;
	at("orders").hidden = at("more").hidden = !says.control;
	body.dataset.control = says.control ? "yes" : "no";
	stream?.close(); // of a connect beside this one
	stream = new EventSource("events?transpose=" + settings.transpose);
	stream.onmessage = (event) => {
		show(JSON.parse(event.data));
		heard = performance.now(); // what could not be shown was not heard
		if (body.dataset.link !== "live") linkIs("live", "");
	};
}

function watch() {
	const now = performance.now();
	if (now - heard < lost) return;
	if (body.dataset.link !== "lost") linkIs("lost", "No word from bedd: what you see is old. Trying again.");
	if (now - tried >= lost) connect();
}

// Orders.
let forget = 0;
function complain(words) {
	put("trouble", words);
	clearTimeout(forget);
	forget = setTimeout(() => {
		if (body.dataset.link === "live") put("trouble", "");
	}, 4000);
}

async function order(name) {
	const answer = await fetch("order", { method: "POST", body: name, signal: AbortSignal.timeout(lost) }).catch(() => null);
	if (!answer) complain(`No word from bedd: it may not have heard ${name}.`);
	else if (!answer.ok) complain(await answer.text());
}

for (const button of document.querySelectorAll("[data-order]")) {
	button.addEventListener("click", () => order(button.dataset.order));
}

// The settings are kept on this device.
function settle() {
	body.dataset.view = settings.show;
	fit();
	at("show").value = settings.show;
	at("transpose").value = settings.transpose;
}

function choose(event) {
	settings = { show: at("show").value, transpose: at("transpose").value };
	try {
		localStorage.setItem("bedd", JSON.stringify(settings));
	} catch { /* a browser that keeps nothing */ }
	settle();
	if (event.target === at("transpose")) {
		linkIs("waiting", "");
		connect();
	}
}

try {
	const kept = JSON.parse(localStorage.getItem("bedd"));
	for (const id of ["show", "transpose"]) { // another bedd may have had other choices
		if ([...at(id).options].some((o) => o.value === kept[id])) settings[id] = kept[id];
	}
} catch { /* nothing was kept */ }
settle();
at("show").addEventListener("change", choose);
at("transpose").addEventListener("change", choose);

// The screen stays on, where the browser can do that: over https, or on bedd's own
// machine.
async function stayAwake() {
	if (document.visibilityState !== "visible") return;
	try {
		await navigator.wakeLock.request("screen");
		put("awake", "The screen stays on.");
	} catch {
		put("awake", "This browser may switch the screen off: set a long display time on the device.");
	}
}

document.addEventListener("visibilitychange", () => {
	stayAwake();
	watch();
});
stayAwake();
connect();
setInterval(watch, 250);

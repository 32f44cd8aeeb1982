"use strict";
// One socket: states come, presses go. Whatever is shown is text that the station made.
const by = (id) => document.getElementById(id);
const SVG = "http://www.w3.org/2000/svg";
let words = {}, socket = null, wait = 250, heard = 0, sound = null, ringing = null, over = false;

const word = (key) => words[key] || key;

function show(id) {
  for (const one of document.querySelectorAll("main")) one.hidden = one.id !== id;
}

function made(name, text) {
  const one = document.createElement(name);
  one.textContent = text;
  return one;
}

function fill(table, head, rows) {
  table.replaceChildren(...[head.map((text) => made("th", text)),
    ...rows.map((cells) => cells.map((text) => made("td", text)))].map((cells) => {
    const row = document.createElement("tr");
    row.append(...cells);
    return row;
  }));
}

// A word, then one text across or one for each leg; the first row names the legs.
function figures(table, rows) {
  table.replaceChildren(...rows.map(({ label, texts, aside }, number) => {
    const row = document.createElement("tr");
    const cells = texts.map((text) => made(number ? "td" : "th", text));
    if (cells.length === 1) cells[0].colSpan = 2;
    if (aside && cells.length) cells[cells.length - 1].append(" ", made("small", aside));
    row.append(made("th", label), ...cells);
    return row;
  }));
}

function drawn(name, kind, values) {
  const made = document.createElementNS(SVG, name);
  if (kind) made.setAttribute("class", kind);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  return made;
}

// Ahead is to the right of the limit, as on a belt that is run to the right; older ones lie lower.
function trail(svg, marks, from) {
  const parts = [drawn("line", "base", { x1: 4, x2: 196, y1: 92, y2: 92 }),
    drawn("line", "limit", { x1: 120, x2: 120, y1: 4, y2: 92 })];
  marks.slice(-8).reverse().forEach((mark, age) => {
    const over_deg = mark.over === null ? 0 : mark.over;
    const x = Math.max(12, Math.min(188, 120 + 12 * over_deg)), y = 14 + age * 10;
    const size = age === 0 ? 9 : 5;
    if (mark.landing === "ahead") {
      parts.push(drawn("path", "ahead", { d: `M${x - size} ${y - size}L${x + size} ${y}L${x - size} ${y + size}Z` }));
    } else if (mark.landing === "within") {
      parts.push(drawn("circle", "within", { cx: x, cy: y, r: size * 0.85 }));
    } else {
      parts.push(drawn("path", "unsure", { d: `M${x - size} ${y}H${x + size}` }));
    }
  });
  [["within", 112, "end"], ["ahead", 128, "start"]].forEach(([key, x, anchor]) => {
    const text = drawn("text", "", { x, y: 88, "text-anchor": anchor });
    text.textContent = key === "ahead" ? `${word(key)} \u25b8` : word(key);
    parts.push(text);
  });
  svg.setAttribute("aria-label", from);
  svg.replaceChildren(...parts);
}

function leg(side, landings) {
  const mine = landings.filter((one) => one.side === side), last = mine[mine.length - 1];
  const box = by("leg-" + side), said = box.querySelector(".last");
  said.className = "last " + (last && last.landing ? last.landing : "");
  said.replaceChildren();
  if (last) {
    said.append(word(last.landing || "unjudged"));
    if (last.over !== null) {
      const small = document.createElement("small");
      small.textContent = ` ${last.over > 0 ? "+" : "\u2212"}${Math.abs(last.over).toFixed(1)}\u00b0`;
      said.append(small);
    }
  }
  trail(box.querySelector(".trail"), mine, said.textContent);
}

function take(state) {
  heard = Date.now();
  by("lost").hidden = true;
  if (state.still || !state.name) return;
  by("place").textContent = state.place;
  by("name").textContent = state.name;
  by("doing").textContent = state.doing;
  leg("left", state.landings);
  leg("right", state.landings);
  by("said").textContent = state.said || state.trouble || "";
  by("said").className = state.said_kind || (state.trouble ? "trouble" : "");
  by("rate").textContent = state.rate;
  by("rate-now").textContent = state.rate_now;
  by("belt").textContent = state.belt;
  by("belt-now").textContent = state.belt_now;
  by("limit").textContent = state.limit;
  by("go").hidden = !state.waits;
  by("go").textContent = word("go");
  by("pause").textContent = word(state.paused ? "go_on" : "pause");
  by("feedback").textContent = word(state.feedback ? "feedback_off" : "feedback_on");
  by("sound").textContent = word(state.sound ? "sound_off" : "sound_on");
  figures(by("rows"), state.rows);
  by("amiss").replaceChildren(...state.amiss.map((text) => made("li", text)));
  by("amiss").hidden = !state.amiss.length;
  by("call").hidden = !state.call;
  by("call-text").textContent = state.call || "";
  ring(Boolean(state.call));
  document.body.dataset.landings = state.first + state.landings.length;
}

// The call for staff: two tones in turn for as long as it stands. The tap that joined allows sound.
function ring(on) {
  if (!on) {
    clearInterval(ringing);
    ringing = null;
    return;
  }
  if (ringing !== null) return;
  const strike = () => {
    if (navigator.vibrate) navigator.vibrate(400);
    if (!sound) return;
    [880, 660].forEach((hz, place) => {
      const tone = sound.createOscillator(), level = sound.createGain();
      const from = sound.currentTime + place * 0.35;
      tone.frequency.value = hz;
      level.gain.setValueAtTime(0.0001, from);
      level.gain.exponentialRampToValueAtTime(0.5, from + 0.02);
      level.gain.exponentialRampToValueAtTime(0.0001, from + 0.33);
      tone.connect(level).connect(sound.destination);
      tone.start(from);
      tone.stop(from + 0.34);
    });
  };
  strike();
  ringing = setInterval(strike, 1000);
}

function wake() {
  const Sound = window.AudioContext || window.webkitAudioContext;
  if (!sound && Sound) sound = new Sound();
  if (sound && sound.state === "suspended") sound.resume();
}

function connect() {
  socket = new WebSocket(location.origin.replace(/^http/, "ws") + "/live");
  socket.onopen = () => { wait = 250; heard = Date.now(); show("coach"); visits(); };
  socket.onmessage = (event) => take(JSON.parse(event.data));
  socket.onclose = (event) => {
    socket = null;
    if (event.code === 4003) { show("join"); ring(false); return; }
    if (event.code === 4000) { over = true; show("over"); ring(false); by("lost").hidden = true; return; }
    by("lost").hidden = false;
    setTimeout(connect, wait);
    wait = Math.min(4000, wait * 2);
  };
}

// A socket of a network that went away is not told: no word for a while is a loss, too.
setInterval(() => {
  if (socket && socket.readyState === 1 && Date.now() - heard > 12000) socket.close();
}, 1000);

async function visits() {
  const answer = await fetch("visits");
  const head = ["when", "plan", "minutes", "share"].map((key) => word("visits_" + key));
  if (answer.ok) fill(by("visits"), head, (await answer.json()).map((one) => Object.values(one)));
}

by("past").addEventListener("toggle", () => { if (by("past").open) visits(); });

document.addEventListener("click", (event) => {
  wake();
  const key = event.target.closest("[data-press]");
  if (key && socket && socket.readyState === 1) socket.send(JSON.stringify({ press: key.dataset.press }));
});

by("join-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  wake();
  const answer = await fetch("join", { method: "POST", body: by("code").value });
  by("code").value = "";
  if (answer.ok) { by("join-said").textContent = ""; connect(); return; }
  const told = answer.status === 429 ? await answer.json() : {};
  by("join-said").textContent = told.wait_s ? `${word("join_shut")} ${told.wait_s} s` : word("join_wrong");
});

(async () => {
  words = await (await fetch("words")).json();
  document.documentElement.lang = word("language");
  for (const one of document.querySelectorAll("[data-word]")) one.textContent = word(one.dataset.word);
  connect();
})();

// The glue-up: the clock of the open time, and going on to the next specimen at once,
// with or without a connection. What is left to glue stands in the page as data; what
// is entered goes through the queue, which keeps it until the logbook has it.
import { choices, drop, send, waiting } from "./queue.js";
import { refresh } from "./follow.js";

const trial = document.body.dataset.trial;
const address = `/trials/${trial}/glue`;
const $ = (id) => document.getElementById(id);
const STALE = 12 * 3600 * 1000; // ms: a clock that ran longer was forgotten
const SOON = 60; // s: the most that is warned of before the open time is over
const here = $("glue-card") !== null; // something was left when the page was loaded
const gone = new Set(); // codes entered here that the data may hold still
let entered = { code: "", key: "", seq: 0 }; // what was entered last
let hand = null; // the specimen in hand

const ours = () => waiting().filter((e) => e.trial === trial);

function left() {
  for (const e of ours()) if (e.url === address) gone.add(codeOf(e));
  return data().filter((c) => !gone.has(c.code));
}

function data() {
  try {
    return JSON.parse($("glue-data")?.textContent || "[]") || [];
  } catch {
    return [];
  }
}

const codeOf = (entry) => entry.fields.find(([name]) => name === "code")?.[1] || "";

// The specimen in hand.

function take(card) {
  hand = card;
  const box = $("glue-card");
  for (const el of box.querySelectorAll("[data-show]")) {
    const text = card[el.dataset.show] || "";
    el.textContent = text;
    const holder = el.closest("[data-show=limits], .glue-facts > div:not(.glue-adhesive), .glue-also, .glue-fresh, .glue-plan");
    if (holder) holder.hidden = !text;
  }
  $("glue-code").classList.toggle("glue-long", card.long);
  for (const id of ["glue-done", "glue-spoiled"]) {
    $(id).reset();
    for (const name of ["note", "batch", "other"]) if ($(id).elements[name]) $(id).elements[name].value = "";
    $(id).elements.code.value = card.code;
  }
  $("glue-over").checked = false;
  $("glue-spoiling").open = false;
  for (const d of box.querySelectorAll("#glue-done details")) d.open = false;
  $("glue-wrong").textContent = "";
  $("glue-why-wrong").textContent = "";
  begin(started());
  around();
  lag();
}

// around shows what comes after the specimen in hand.
function around() {
  const rest = left().filter((c) => c.code !== hand.code);
  const list = $("glue-next");
  list.replaceChildren(...rest.slice(0, 5).map(nextItem));
  if (!rest.length) list.append(make("li", { textContent: "nothing: this is the last" }));
  const coming = $("glue-coming");
  coming.hidden = !rest.length;
  coming.replaceChildren();
  if (rest.length) coming.append("Then ", make("strong", { className: "code", textContent: rest[0].code }), rest[0].fresh ? ": " + rest[0].fresh : "");
}

function nextItem(card) {
  const item = make("li", {});
  const link = make("a", { className: "glue-touch code", href: "?code=" + encodeURIComponent(card.code), textContent: card.code });
  link.addEventListener("click", (e) => {
    if (e.ctrlKey || e.metaKey || e.shiftKey) return;
    e.preventDefault();
    take(card);
    $("glue-code").focus();
    $("glue-bench").scrollIntoView({ block: "start" });
  });
  const about = make("span", { textContent: [card.adhesive, card.wood, card.levels].filter(Boolean).join(", ") });
  if (card.fresh) about.append(make("br", {}), make("span", { className: "help", textContent: "First " + card.fresh }));
  item.append(link, " ", about);
  return item;
}

function make(name, properties) {
  return Object.assign(document.createElement(name), properties);
}

// Planned time against now, in the words of the page.
function lag() {
  if (!hand?.at) return;
  const minutes = Math.trunc((Date.now() - hand.at) / 60000);
  const words = Math.abs(minutes) < 5 ? "as planned" : span(Math.abs(minutes)) + (minutes > 0 ? " behind the plan" : " ahead of the plan");
  if ($("glue-lag").textContent !== words) $("glue-lag").textContent = words;
}

function span(minutes) {
  const days = Math.floor(minutes / 1440);
  const hours = Math.floor((minutes % 1440) / 60);
  const rest = minutes % 60;
  const day = days ? `${days} ${days === 1 ? "day" : "days"}` : "";
  const parts = days ? [day, hours && `${hours} h`] : [hours && `${hours} h`, rest && `${rest} min`];
  return parts.filter(Boolean).join(" ") || "0 min";
}

// The clock of the open time. Its beginning is kept on the device, so that a page
// loaded anew goes on where it was.

const shelf = (code) => `bondtrial glue ${trial} ${code}`;
const memory = new Map();
let since = 0;
let ticking = 0;
let state = "";

function started() {
  let ms = memory.get(hand.code) || 0;
  try {
    ms = Number(localStorage.getItem(shelf(hand.code))) || ms;
  } catch {
    // A browser without storage: the clock lives as long as the page.
  }
  return ms > 0 && Date.now() - ms < STALE && ms <= Date.now() + 1000 ? ms : 0;
}

function keep(code, ms) {
  ms ? memory.set(code, ms) : memory.delete(code);
  try {
    ms ? localStorage.setItem(shelf(code), String(ms)) : localStorage.removeItem(shelf(code));
  } catch {
    // As above.
  }
}

// begin runs the clock from a moment on; 0: it stands.
function begin(ms) {
  since = ms;
  state = "";
  clearInterval(ticking);
  $("glue-on").hidden = ms > 0;
  $("glue-running").hidden = !ms;
  $("glue-done").querySelector("button").classList.toggle("main", ms > 0);
  for (const id of ["glue-done", "glue-spoiled"]) $(id).elements.spread.value = ms || "";
  if (!ms) {
    $("glue-clock").dataset.state = "off";
    return;
  }
  $("glue-bar").hidden = !hand.open;
  tick();
  ticking = setInterval(tick, 250);
}

function tick() {
  const passed = (Date.now() - since) / 1000;
  const open = hand.open;
  const left = open - passed;
  let next = "running";
  if (!open) {
    show(passed, "since the adhesive went on; no open time is known for it");
    next = "unknown";
  } else if (left > 0) {
    show(Math.ceil(left), "open time left");
    if (left <= Math.min(SOON, open / 3)) next = "soon";
  } else {
    show(-left, "over the open time");
    next = "over";
  }
  const bar = $("glue-bar");
  bar.max = open || 1;
  bar.value = Math.max(0, left);
  if (next === state) return;
  state = next;
  $("glue-clock").dataset.state = next;
  $("glue-warn").textContent = { soon: "▲ Join the faces now: the open time is nearly over.", over: "■ The open time is over. If the faces met before, take the tick below away." }[next] || "";
  if (next === "over") $("glue-over").checked = true;
}

function show(seconds, words) {
  const s = Math.floor(seconds);
  const time = s < 3600 ? `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}` : `${Math.floor(s / 3600)}:${String(Math.floor(s / 60) % 60).padStart(2, "0")}:${String(s % 60).padStart(2, "0")}`;
  if ($("glue-time").textContent !== time) $("glue-time").textContent = time;
  if ($("glue-words").textContent !== words) $("glue-words").textContent = words;
}

// Entering.

function enter(form, words) {
  const fields = new FormData(form);
  const code = hand.code;
  if (form.id === "glue-done") {
    fields.set("outcome", "done");
    fields.set("clamped", Date.now());
  }
  if (since) fields.set("spread", since);
  gone.add(code);
  keep(code, 0);
  const sending = send(address, fields, { words: `${code} ${words}`, trial });
  entered = { code, key: "", seq: 0 };
  said(`${code} ${words}.`, false);
  history.replaceState(null, "", address);
  goOn();
  sending.then(({ state, answer, key }) => {
    if (state === "refused") {
      if (entered.code === code) said("", false);
      return;
    }
    if (entered.code !== code) return;
    entered = { code, key, seq: answer?.seq || 0 };
    said(state === "written" ? `${code} ${words}: in the logbook.` : `${code} ${words}: kept on this device, sent when the connection is back.`, true);
    if (state === "written") refresh();
  });
}

function goOn() {
  const next = left()[0];
  if (next) {
    take(next);
    $("glue-bench").scrollIntoView({ block: "start" });
    $("glue-code").focus({ preventScroll: true });
    return;
  }
  begin(0);
  hand = null;
  const card = $("glue-card");
  card.replaceChildren(make("h2", { textContent: "All is entered" }), make("p", { textContent: "Nothing is left to glue on this page. What waits on this device is sent by itself; then the page shows what comes next." }));
}

function said(words, undo) {
  const p = $("glue-sent");
  p.replaceChildren(words);
  if (!undo) return;
  const b = make("button", { type: "button", textContent: `Take ${entered.code} back` });
  b.addEventListener("click", takeBack);
  p.append(" ", b);
}

async function takeBack() {
  const { code, key, seq } = entered;
  if (!confirm(`Take back what is written down of ${code}? It is then to be glued again.`)) return;
  await undo(code, seq, key);
}

// undo takes an entry back, by its number, or by its key where it waits here still.
async function undo(code, seq, key) {
  entered = { code: "", key: "", seq: 0 };
  said(`Taking ${code} back …`, false);
  const { state } = await send(`/trials/${trial}/undo`, { seq: seq || "{seq}", back: address, code }, { words: `${code} taken back`, trial, after: seq ? "" : key });
  if (state === "kept") said(`${code}: taking it back waits on this device, as there is no connection.`, false);
  else if (state === "refused") said("", false);
}

// oddAir asks once about air that a shop seldom has, in the words of the logbook, which
// may not be there to ask; empty: there is nothing to ask.
function oddAir(form) {
  const { temperature, unit, sure } = form.elements;
  if (!temperature || !sure) return "";
  const text = temperature.value.trim();
  const asked = sure.value === text;
  sure.value = text;
  const x = parseFloat(text.replace(",", ".").replace("−", "-"));
  const fahrenheit = /f$/i.test(text) || (unit.value === "°F" && !/c$/i.test(text));
  const celsius = fahrenheit ? ((x - 32) * 5) / 9 : x;
  if (asked || Number.isNaN(x) || (celsius <= 45 && celsius >= -20)) return "";
  return `${Math.round(celsius)} °C is ${Math.round(celsius * 1.8 + 32)} °F: is that so, and its unit? If it is, write it down again.`;
}

// The other forms of the page go through the queue as well; a slip that the logbook
// finds is shown beside what was typed.
async function other(form) {
  const p = form.querySelector(".glue-said");
  const words = form.dataset.keep;
  p.hidden = true;
  const odd = oddAir(form);
  if (odd) {
    p.className = "glue-said wrong-here";
    p.textContent = odd;
    p.hidden = false;
    return;
  }
  const { state, answer, key } = await send(form.action, new FormData(form), { words, trial });
  p.hidden = false;
  if (state === "refused") {
    drop(key);
    p.className = "glue-said wrong-here";
    p.textContent = answer?.error || "The logbook did not take it.";
    return;
  }
  p.className = "glue-said good";
  p.textContent = state === "written" ? "Written down." : "Kept on this device, sent when the connection is back.";
  form.reset();
  form.querySelector("[name=seq]")?.remove();
  if (form.elements.sure) form.elements.sure.value = "";
  if (state === "written") refresh();
}

document.addEventListener("submit", (e) => {
  if (e.defaultPrevented) return;
  const form = e.target;
  if (form.id === "glue-done" && hand) {
    e.preventDefault();
    enter(form, "under the clamp");
  } else if (form.id === "glue-spoiled" && hand) {
    e.preventDefault();
    if (!form.elements.why.value && !form.elements.other.value.trim()) {
      $("glue-why-wrong").textContent = "Say why it is spoiled: pick a reason or write one.";
      form.elements.why[0].focus();
      return;
    }
    enter(form, "spoiled");
  } else if (form.dataset.keep) {
    e.preventDefault();
    other(form);
  } else if (form.dataset.code && here) {
    e.preventDefault();
    undo(form.dataset.code, form.elements.seq.value, "");
  }
});

document.addEventListener("click", (e) => {
  const ask = e.target.closest?.("[data-marks]");
  if (!ask || !$("glue-marking") || document.querySelector("#glue-marking [name=seq]")) return;
  e.preventDefault();
  $("glue-marking").open = true;
  $("glue-group").value = ask.dataset.marks;
  $("glue-marking").querySelector("[name=spreads]").focus();
  $("glue-marking").scrollIntoView({ block: "start" });
});

// What others write, and what the logbook says later.

document.addEventListener("entry", ({ detail }) => {
  if (!hand || detail.kind !== "glued" || detail.subject !== hand.code) return;
  const by = `${detail.by || "Somebody"}${detail.device ? " on " + detail.device : ""}`;
  if (since) {
    $("glue-wrong").textContent = `${by} has written ${hand.code} down meanwhile: ${detail.words}.`;
    return;
  }
  const code = hand.code;
  gone.add(code);
  goOn();
  said(`${by} has written ${code} down: ${detail.words}.`, false);
});

document.addEventListener("refreshed", () => {
  const there = new Set(data().map((c) => c.code));
  for (const code of gone) if (!there.has(code)) gone.delete(code);
  if (hand) around();
  else if (left().length || (here && !ours().length)) location.reload();
});

document.addEventListener("queue", ({ detail }) => {
  const { entry, state } = detail;
  const code = codeOf(entry);
  if (entry.trial === trial && entry.url === `/trials/${trial}/undo` && code && state === "written") {
    gone.delete(code);
    said(`${code} is taken back.`, false);
    refresh();
  }
  if (entry.trial !== trial || entry.url !== address) return;
  if (state === "refused") gone.delete(code);
  if (state === "written" && code === entered.code) entered.seq = detail.answer?.seq || 0;
});

choices((entry) =>
  entry.trial === trial && entry.url === address && $("glue-code")
    ? [{ label: `Show ${codeOf(entry)} again`, run: () => location.assign(`${address}?code=${encodeURIComponent(codeOf(entry))}`) }]
    : [],
);

if (here) {
  const wanted = $("glue-code").textContent;
  const cards = left();
  const first = cards.find((c) => c.code === wanted);
  $("glue-clock").hidden = false;
  $("glue-on").addEventListener("click", () => {
    keep(hand.code, Date.now());
    begin(Date.now());
    $("glue-done").querySelector("button").focus({ preventScroll: true });
    $("glue-bench").scrollIntoView({ block: "start" });
  });
  $("glue-off").addEventListener("click", () => {
    keep(hand.code, 0);
    $("glue-over").checked = false;
    begin(0);
    $("glue-on").focus();
  });
  if (first) {
    hand = first; // as the page has it, with what was typed
    begin(started() || Number($("glue-done").elements.spread.value) || 0);
    around();
    lag();
  } else goOn();
  setInterval(() => {
    lag();
    if (!document.hidden) refresh();
  }, 60000);
}

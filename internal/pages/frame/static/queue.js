// Keeps what is entered on this device until the logbook has it. An entry is put
// into the browser's storage before it is sent, and taken out when the logbook has
// answered that it is written. An entry that the logbook refuses is kept as well, and
// shown with what the logbook said, until a person decides. Every entry has a key of
// its own, so that it is written once however often it is sent.
//
//   const { state, answer, key } = await send(url, fields, { words, trial });
//
// url takes a POST and answers in JSON. fields is a FormData, or an object; it may
// hold files. words say in a few words what is entered. state is "written", "kept"
// (there is no connection, or no answer within patience: it is sent later by itself),
// or "refused"; answer is what the logbook said, null where it did not. after names
// the key of an earlier entry: "{seq}" in the url and in fields stands for the number
// that the logbook gave it.
//
// On document there is the event "queue" with { key, state, answer, entry } in detail
// whenever an entry is written or refused, also later and in another page.
import { say } from "./follow.js";
import { clock } from "./times.js";

const WAITING = "bondtrial waiting ";
const REFUSED = "bondtrial refused ";
const WRITTEN = "bondtrial written ";
const PATIENCE = 3000; // ms until a person is told that it waits
const TIMEOUT = 20000; // ms for one try; photos take their time
const TURN = 8000; // ms to wait for another page that is sending
const PAUSES = [1000, 2000, 4000, 8000, 15000, 30000]; // ms between tries
const TRIES = 3; // of an entry that alone is not taken, until the next goes first

const memory = new Map(); // entries that the storage has no room for
const blobs = new Map(); // files of the same
const waiters = new Map(); // key → what is called with the outcome
const failures = new Map(); // key → tries that got an answer, and not a clear one
const choosers = []; // of stations, for refused entries
let working = false;
let again = false;
let timer = 0;
let pause = 0;
let trouble = "";
let last = 0;

// send keeps an entry and sends it.
export async function send(url, fields, { words = "", trial = document.body.dataset.trial || "", after = "", patience = PATIENCE } = {}) {
  const key = newKey();
  const now = Date.now();
  last = Math.max(now, last + 1);
  const entry = { key, url, words, trial, said: now, turn: last, after, fields: [], files: [] };
  const files = [];
  for (const [name, value] of fields instanceof FormData ? fields : Object.entries(fields)) {
    if (name === "key" || name === "said") continue;
    if (value instanceof Blob) {
      if (value.size === 0) continue;
      entry.files.push([name, value.name || name]);
      files.push(value);
    } else if (value !== null && value !== undefined) entry.fields.push([name, String(value)]);
  }
  if (files.length) await keepFiles(key, files);
  const outcome = new Promise((resolve) => {
    waiters.set(key, resolve);
    setTimeout(() => {
      if (!waiters.has(key)) return;
      trouble ||= "The logbook has not answered yet.";
      settle(key, "kept", null);
      show();
    }, patience);
  });
  keep(WAITING, entry);
  show();
  work();
  return outcome;
}

// waiting returns the entries that are not sent yet, in their order.
export function waiting() {
  return list(WAITING);
}

// refused returns the entries that the logbook refused, each with .answer and .status.
export function refused() {
  return list(REFUSED);
}

// drop forgets a refused entry: a person threw it away, or entered it anew.
export function drop(key) {
  forget(REFUSED, key);
  dropFiles(key);
  show();
}

// choices lets a station offer more than to send a refused entry again or to throw it
// away: choose(entry) returns a list of { label, run }, or nothing. A list whose only is
// true has all there is.
export function choices(choose) {
  choosers.push(choose);
  show();
}

// file returns a file of an entry that is kept here; null where there is none.
export async function file(key, number) {
  return (await readFiles(key, number + 1))[number] || null;
}

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
}

function settle(key, state, answer) {
  waiters.get(key)?.({ state, answer, key });
  waiters.delete(key);
}

// Storage.

function keep(shelf, entry) {
  try {
    localStorage.setItem(shelf + entry.key, JSON.stringify(entry));
    memory.delete(shelf + entry.key);
  } catch {
    memory.set(shelf + entry.key, entry);
  }
}

function forget(shelf, key) {
  memory.delete(shelf + key);
  try {
    localStorage.removeItem(shelf + key);
  } catch {
    // A browser without storage: there was nothing in it.
  }
}

function list(shelf) {
  const found = new Map();
  try {
    for (let i = 0; i < localStorage.length; i++) {
      const name = localStorage.key(i);
      if (!name.startsWith(shelf)) continue;
      const entry = read(localStorage.getItem(name));
      if (entry) found.set(name, entry);
    }
  } catch {
    // As above.
  }
  for (const [name, entry] of memory) if (name.startsWith(shelf)) found.set(name, entry);
  return [...found.values()].sort((a, b) => a.turn - b.turn || (a.key < b.key ? -1 : 1));
}

function has(shelf, key) {
  if (memory.has(shelf + key)) return true;
  try {
    return localStorage.getItem(shelf + key) !== null;
  } catch {
    return false;
  }
}

function read(text) {
  try {
    const entry = JSON.parse(text);
    return entry && entry.key && entry.url ? entry : null;
  } catch {
    return null;
  }
}

// Files lie in the browser's database, as its storage for text has no room for them.

function database() {
  return new Promise((resolve, reject) => {
    const open = indexedDB.open("bondtrial", 1);
    open.onupgradeneeded = () => open.result.createObjectStore("files");
    open.onsuccess = () => resolve(open.result);
    open.onerror = () => reject(open.error);
    open.onblocked = () => reject(new Error("blocked"));
  });
}

async function inFiles(mode, act) {
  const db = await database();
  try {
    return await new Promise((resolve, reject) => {
      const step = db.transaction("files", mode);
      const result = act(step.objectStore("files"));
      step.oncomplete = () => resolve(result?.result);
      step.onerror = step.onabort = () => reject(step.error);
    });
  } finally {
    db.close();
  }
}

async function keepFiles(key, files) {
  try {
    await inFiles("readwrite", (store) => files.forEach((f, i) => store.put(f, key + "/" + i)));
  } catch {
    blobs.set(key, files);
  }
}

async function readFiles(key, n) {
  if (blobs.has(key)) return blobs.get(key);
  const out = [];
  for (let i = 0; i < n; i++) {
    try {
      out.push(await inFiles("readonly", (store) => store.get(key + "/" + i)));
    } catch {
      out.push(undefined);
    }
  }
  return out;
}

async function dropFiles(key) {
  blobs.delete(key);
  try {
    await inFiles("readwrite", (store) => store.delete(IDBKeyRange.bound(key + "/", key + "/\uffff")));
  } catch {
    // The browser has no database: there was nothing in it.
  }
}

// Sending.

async function work() {
  if (working) {
    again = true;
    return;
  }
  working = true;
  clearTimeout(timer);
  timer = 0;
  try {
    do {
      again = false;
      // One page of the browser sends at a time. Where pages cannot agree on it (plain
      // http from another device) two may send the same entry: its key makes that harmless.
      if (navigator.locks) await inTurn();
      else await round();
    } while (again);
  } finally {
    working = false;
  }
  show();
}

// inTurn sends when no other page does. A page that was put to sleep in the middle of
// it is not waited for.
async function inTurn() {
  const stop = new AbortController();
  const tired = setTimeout(() => stop.abort(), TURN);
  let begun = false;
  try {
    await navigator.locks.request("bondtrial queue", { signal: stop.signal }, () => {
      begun = true;
      clearTimeout(tired);
      return round();
    });
  } catch (e) {
    if (begun) throw e;
    await round();
  } finally {
    clearTimeout(tired);
  }
}

// round sends what waits, in order, until one cannot be sent.
async function round() {
  trouble = "";
  const passed = new Set();
  for (;;) {
    const entry = waiting().find((e) => !passed.has(e.key));
    if (!entry) break;
    const outcome = await attempt(entry);
    if (outcome.state === "wait") {
      trouble = outcome.words;
      const n = (failures.get(entry.key) || 0) + (outcome.answered ? 1 : 0);
      failures.set(entry.key, n);
      settle(entry.key, "kept", null);
      if (n < TRIES) break;
      passed.add(entry.key); // what is wrong may be this entry: let the next ones go first
      continue;
    }
    pause = 0;
    failures.delete(entry.key);
    finish(entry, outcome);
  }
  if (waiting().length === 0) return;
  for (const e of waiting()) settle(e.key, "kept", null);
  timer = setTimeout(work, PAUSES[Math.min(pause, PAUSES.length - 1)]);
  pause++;
}

function finish(entry, { state, answer, status }) {
  if (state === "written") {
    if (answer.seq) {
      // Another entry may wait to be told this number. The last ones are remembered.
      keep(WRITTEN, { key: entry.key, url: entry.url, turn: entry.turn, seq: answer.seq });
      for (const old of list(WRITTEN).slice(0, -30)) forget(WRITTEN, old.key);
    }
    forget(WAITING, entry.key);
    dropFiles(entry.key);
  } else {
    keep(REFUSED, { ...entry, answer, status });
    forget(WAITING, entry.key);
  }
  show();
  settle(entry.key, state, answer);
  document.dispatchEvent(new CustomEvent("queue", { detail: { key: entry.key, state, answer, entry } }));
}

// attempt sends an entry once. The logbook has it only where it says so in its own
// words: anything else that comes back may be from somebody on the way.
async function attempt(entry) {
  let fill = (s) => s;
  if (entry.after) {
    const before = list(WRITTEN).find((e) => e.key === entry.after);
    if (!before) {
      if (has(WAITING, entry.after)) return { state: "wait", answered: true, words: "" };
      return { state: "refused", status: 409, answer: { error: "The entry that this one was about is not in the logbook, so there is nothing to change in it." } };
    }
    fill = (s) => s.replaceAll("{seq}", before.seq);
  }
  let answer;
  let response;
  try {
    const body = await bodyOf(entry, fill);
    response = await fetch(fill(entry.url), { method: "POST", headers: { Accept: "application/json" }, body, signal: limit() });
    const text = await response.text();
    answer = (response.headers.get("Content-Type") || "").includes("json") ? JSON.parse(text) : null;
  } catch {
    return { state: "wait", answered: false, words: "There is no connection to the logbook." };
  }
  if (response.ok && answer) {
    return { state: "written", answer };
  }
  const { status } = response;
  if (status === 401) return { state: "wait", answered: false, words: "The logbook does not let this device in: let it in anew with the code, in another tab." };
  if (status >= 400 && status < 500 && status !== 408 && status !== 429 && (answer || (failures.get(entry.key) || 0) >= TRIES)) {
    return { state: "refused", status, answer: answer || { error: `The logbook did not take it (${status}).` } };
  }
  return { state: "wait", answered: status !== 429 && status !== 507, words: answer?.error || `The logbook could not write it (${status}).` };
}

async function bodyOf(entry, fill) {
  const form = entry.files.length ? new FormData() : new URLSearchParams();
  form.append("key", entry.key);
  form.append("said", entry.said);
  for (const [name, value] of entry.fields) form.append(name, fill(value));
  const files = entry.files.length ? await readFiles(entry.key, entry.files.length) : [];
  entry.files.forEach(([name, called], i) => files[i] && form.append(name, files[i], called));
  return form;
}

function limit() {
  const stop = new AbortController();
  setTimeout(() => stop.abort(), TIMEOUT);
  return stop.signal;
}

// Showing.

function show() {
  const n = waiting().length;
  let words = "";
  if (n > 0 && (trouble || !working)) {
    words = `${trouble ? trouble + " " : ""}${n === 1 ? "1 entry waits" : n + " entries wait"} on this device and will be sent by ${n === 1 ? "itself" : "themselves"}: tried again and again while a page of the logbook is open.`;
  }
  if (unstored()) words += " This browser has no room left to keep it: leave this page open until everything is sent.";
  say(words, "queue");
  showRefused();
}

function unstored() {
  return blobs.size > 0 || [...memory.keys()].some((name) => !name.startsWith(WRITTEN));
}

let shown = "";

function showRefused() {
  const entries = refused();
  const state = JSON.stringify(entries.map((e) => e.key)) + choosers.length;
  if (state === shown) return;
  shown = state;
  const old = document.getElementById("queue-refused");
  if (entries.length === 0) {
    old?.remove();
    return;
  }
  const box = make("section", { id: "queue-refused", className: "caution" });
  box.setAttribute("role", "alert");
  box.setAttribute("aria-labelledby", "queue-refused-head");
  box.append(make("h2", { id: "queue-refused-head", textContent: entries.length === 1 ? "1 entry is not written" : entries.length + " entries are not written" }));
  box.append(make("p", { className: "help", textContent: "Kept on this device until you decide." }));
  const all = make("ul", { className: "plain" });
  for (const entry of entries) all.append(itemOf(entry));
  box.append(all);
  if (old) old.replaceWith(box);
  else (document.getElementById("line-state") || document.body.firstElementChild).after(box);
}

function itemOf(entry) {
  const item = make("li", {});
  const what = make("p", {});
  what.append(make("strong", { textContent: entry.words || "An entry" }), `, entered at ${clock(entry.said)}. ${entry.answer?.error || "The logbook did not say why."}`);
  const buttons = make("div", { className: "actions" });
  let only = false;
  for (const choose of choosers) {
    const ways = choose(entry) || [];
    only ||= ways.only;
    for (const { label, run } of ways) buttons.append(button(label, "", () => run(entry)));
  }
  if (!only) buttons.append(
    button("Send again", "", () => {
      if (!confirm(`Send "${entry.words}" again?`)) return;
      const { answer, status, ...fresh } = entry;
      keep(WAITING, fresh);
      forget(REFUSED, entry.key);
      show();
      work();
    }),
    button("Throw away", "danger", () => {
      if (confirm(`Throw "${entry.words}" away? It is in no logbook.`)) drop(entry.key);
    }),
  );
  item.append(what, buttons);
  return item;
}

function button(label, className, run) {
  const b = make("button", { type: "button", className, textContent: label });
  b.addEventListener("click", run);
  return b;
}

function make(name, properties) {
  return Object.assign(document.createElement(name), properties);
}

// What wakes the queue.

function wake() {
  if (waiting().length === 0) return;
  pause = 0;
  work();
}

addEventListener("online", wake);
addEventListener("pageshow", wake);
document.addEventListener("visibilitychange", () => document.hidden || wake());
document.addEventListener("entry", wake);
document.addEventListener("refreshed", wake);
addEventListener("storage", (e) => {
  if (!e.key || e.key.startsWith("bondtrial ")) show();
});
addEventListener("beforeunload", (e) => {
  if (unstored()) e.preventDefault();
});
show();

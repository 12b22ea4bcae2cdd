// The bench at Break: the next specimen at once, entries that are kept while there is
// no connection, and what others do meanwhile. The form itself is in break-form.js.
import { byId, coarse, data, earlyWords, field, fieldsOf, form, live, make, problem, readData, share, values, wordsOf, wrong } from "./break-form.js";
import { choices, drop, file, send, waiting } from "./queue.js";
import { refresh } from "./follow.js";

const bench = document.getElementById("break-form");
const base = "/trials/" + document.body.dataset.trial + "/break";

let now = null; // the specimen on the rig
let taking = null; // a refused entry whose values are in the form
const mine = new Set(); // keys of what this page sent

// Saving.

let saving = false;

async function save(e) {
  if (e.submitter?.name === "instead") return; // a page that was shown again
  e.preventDefault();
  if (saving) return;
  const bad = problem(now);
  wrong(bad);
  if (bad) return;
  saving = true;
  byId("break-save").disabled = true;
  const code = field("code").value;
  const words = wordsOf();
  const { state, answer, key } = await send(base, fieldsOf(), { words, patience: 1500 });
  mine.add(key);
  byId("break-told").dataset.key = key; // what is told is about it
  saving = false;
  byId("break-save").disabled = false;
  if (state === "refused" && !answer.recorded && answer.fields) {
    wrong(answer.fields); // all is in the form still
    drop(key);
    return;
  }
  if (taking) drop(taking);
  taking = null;
  data.left = data.left.filter((c) => c.code !== code);
  tell(state === "written" ? `Written: ${words}.` : state === "kept" ? `Kept on this device: ${words}. It is sent by itself.` : `Not written: ${words}. Decide above.`);
  showKept();
  move();
  if (state === "written") refresh();
  if (state === "refused") byId("queue-refused")?.scrollIntoView({ block: "start" });
}

async function correct(e) {
  e.preventDefault();
  if (saving) return;
  saving = true;
  const fields = new FormData(form);
  const code = document.querySelector("h1 .code").textContent;
  const { state, answer, key } = await send(form.getAttribute("action"), fields, { words: `${code} corrected: ${field("peak").value} ${field("unit").value}` });
  saving = false;
  if (state === "written") {
    location.assign(`${base}/${answer.seq}`);
    return;
  }
  if (state === "refused" && answer.fields) {
    drop(key);
    if (answer.asked) field("sure").value = answer.asked;
    wrong(answer.fields);
    return;
  }
  if (state === "kept") wrong({ peak: "Kept on this device; it is sent when the connection is back." });
}

// move puts the next specimen on the rig.
function move() {
  clearForm();
  const gone = keptCodes();
  const left = data.left.filter((c) => !gone.has(c.code));
  put(left[0] || null);
}

function clearForm() {
  const unit = field("unit").value;
  const area = field("area")?.value;
  for (const name of ["peak", "wood", "moisture", "note", "asidetext", "sure", "aside", "photo"]) field(name).value = "";
  field("rig").checked = field("unloaded").checked = false;
  for (const radio of form.querySelectorAll("[name=failure]")) radio.checked = radio.value === "";
  field("unit").value = unit;
  if (area !== undefined) field("area").value = area;
  field("wood").dispatchEvent(new Event("input", { bubbles: true }));
  form.querySelector(".break-extra").open = false;
  wrong(null);
  sessionStorage.removeItem(draftName);
}

// put puts a specimen on the rig, null for none.
function put(card) {
  now = card;
  byId("break-rig").hidden = !card;
  form.hidden = !card;
  byId("break-done").hidden = !!card;
  byId("break-stop").hidden = true;
  byId("choose").removeAttribute("aria-invalid");
  if (!card) return;
  byId("break-code").textContent = card.code;
  byId("break-lines").replaceChildren(...card.lines.map((line) => make("li", "", line)));
  field("code").value = card.code;
  field("sure").value = "";
  const early = earlyWords(card);
  byId("break-early").textContent = early;
  byId("break-early").hidden = !early;
  const gone = keptCodes();
  byId("break-next").textContent = data.left.find((c) => c.code !== card.code && !gone.has(c.code))?.code || "the last one";
  live();
  if (coarse()) byId(byId("break-told").textContent ? "break-told" : "break-rig").scrollIntoView({ block: "start" });
  else field("peak").focus();
}

function typed() {
  return ["peak", "wood", "moisture", "note", "asidetext", "aside", "photo", "failure"].some((name) => field(name).value !== "") || field("rig").checked;
}

function tell(words) {
  byId("break-told").textContent = words;
}

// What this device keeps.

function kept() {
  return waiting().filter((e) => e.url === base || e.url.startsWith(base + "/"));
}

// keptCodes are the specimens whose break waits on this device.
function keptCodes() {
  const codes = new Map();
  for (const e of kept()) {
    const code = e.fields.find(([name]) => name === "code")?.[1];
    if (e.url === base) codes.set(e.key, code);
    else if (e.after) codes.delete(e.after);
  }
  return new Set(codes.values());
}

function showKept() {
  const all = kept();
  byId("break-kept").hidden = all.length === 0;
  const undone = new Set(all.map((e) => e.after).filter(Boolean));
  byId("break-kept-list").replaceChildren(
    ...all.map((e) => {
      const line = make("li", "", e.words + " ");
      if (e.url === base && !undone.has(e.key)) {
        const back = make("button", "", "Take back");
        back.type = "button";
        back.addEventListener("click", () => takeBack(e));
        line.append(back);
      }
      return line;
    }),
  );
}

async function takeBack(entry) {
  const code = entry.fields.find(([name]) => name === "code")?.[1];
  const done = send(base + "/{seq}", { undo: "1" }, { words: `${code} taken back`, after: entry.key, patience: 500 });
  showKept();
  tell(`${code} is taken back and is to be broken again.`);
  await done;
  showKept();
}

document.addEventListener("queue", (e) => {
  if (!bench) return;
  mine.add(e.detail.key);
  showKept();
  if (e.detail.state !== "written") return;
  const told = byId("break-told");
  if (told.dataset.key === e.detail.key && told.textContent.startsWith("Kept")) tell(`Written: ${e.detail.entry.words}.`);
  refresh();
});
addEventListener("storage", () => bench && showKept());

// ways are what a person may do with an entry that was refused, beside sending it
// again and throwing it away.
function ways(entry) {
  if (entry.url !== base && !entry.url.startsWith(base + "/")) return [];
  const out = [];
  const there = entry.answer?.recorded;
  if (entry.url === base && there) {
    out.only = true; // sent again it is refused again, and to throw it away is the first
    out.push({
      label: "Keep the one recorded, throw mine away",
      run: () => confirm(`Keep “${there.words}” and throw yours away?`) && drop(entry.key),
    });
    out.push({
      label: "Put mine in its place",
      run: async () => {
        if (!confirm(`Put yours in the place of “${there.words}”? The other one stays in the history.`)) return;
        const fields = await fieldsAgain(entry);
        drop(entry.key);
        const { state } = await send(`${base}/${there.seq}`, fields, { words: entry.words + " (correction)" });
        tell(state === "written" ? `Corrected: ${entry.words}.` : `Kept on this device: ${entry.words}.`);
        refresh();
      },
    });
  }
  if (entry.url === base) out.push({ label: there ? "Mine is of another specimen" : "Put it right", run: () => takeUp(entry) });
  return out;
}

async function fieldsAgain(entry) {
  const fields = new FormData();
  for (const [name, value] of entry.fields) fields.append(name, value);
  for (const [i, [name, called]] of entry.files.entries()) {
    const f = await file(entry.key, i);
    if (f) fields.append(name, f, called);
  }
  return fields;
}

// takeUp puts the values of a refused entry into the form. It stays in the list of
// refused ones until it is saved anew.
async function takeUp(entry) {
  if (typed() && !confirm("Put these values in the place of what you typed?")) return;
  taking = entry.key;
  const code = entry.fields.find(([name]) => name === "code")?.[1];
  if (!now) put({ code, lines: [] });
  clearForm();
  for (const [name, value] of entry.fields) {
    const input = field(name);
    if (name === "code" || name === "sure" || !input) continue;
    if (name === "rig") input.checked = true;
    else input.value = value;
  }
  const picture = entry.files.length ? await file(entry.key, 0) : null;
  if (picture) {
    const hand = new DataTransfer();
    hand.items.add(new File([picture], entry.files[0][1], { type: picture.type }));
    field("photo").files = hand.files;
  }
  field("wood").dispatchEvent(new Event("input", { bubbles: true }));
  const other = !!entry.answer?.recorded;
  tell(other ? `The values of ${code} are in the form. Now choose the specimen that they belong to.` : `The values of ${code} are in the form. Put them right and save.`);
  if (!other) {
    const card = data.left.find((c) => c.code === code);
    if (card) put(card);
    wrong(entry.answer?.fields);
  } else byId("choose").focus();
}

// Choosing a specimen.

function choosing() {
  byId("break-choose").addEventListener("submit", (e) => {
    e.preventDefault();
    choose(byId("choose").value);
  });
  document.addEventListener("click", (e) => {
    const link = e.target.closest("a[data-code]");
    if (!link || e.ctrlKey || e.metaKey || e.shiftKey) return;
    e.preventDefault();
    byId("break-left-box").open = false;
    choose(link.dataset.code);
  });
}

async function choose(text) {
  const code = text.trim().toUpperCase().replace(/[\s.\-‐‑–]/g, "");
  const same = (c) => c.toUpperCase().replace(/[\s.\-‐‑–]/g, "") === code;
  if (!code) return;
  const card = data.left.find((c) => same(c.code));
  if (card && !keptCodes().has(card.code)) {
    byId("choose").value = "";
    tell(`${card.code} is on the rig.`);
    put(card);
    return;
  }
  if (card) {
    stop([make("h2", "break-code", card.code), make("p", "", `The break of ${card.code} is kept on this device already. Take it back in the list below first, or choose another one.`)]);
    return;
  }
  let page;
  try {
    const answer = await fetch(`${base}?code=${encodeURIComponent(text)}`);
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    const there = data.broken.find(same) ? `${code} is broken already.` : data.spoiled.find(same) ? `${code} was spoiled at the glue-up.` : data.known.find(same) ? `${code} is not recorded as glued.` : `No specimen of this trial is called ${code}.`;
    stop([make("h2", "break-code", code), make("p", "", `${there} Nothing is on the rig. Without a connection no more can be said: choose one from the list of those left.`)]);
    return;
  }
  const found = page.getElementById("break-code");
  const halt = page.getElementById("break-stop");
  if (halt && !halt.hidden) {
    stop([...halt.childNodes].map((n) => document.importNode(n, true)));
  } else if (found && same(found.textContent)) {
    byId("choose").value = "";
    tell(`${found.textContent} is on the rig.`);
    put({ code: found.textContent, lines: Array.from(page.querySelectorAll("#break-lines li"), (li) => li.textContent), early: page.getElementById("break-early")?.textContent });
  }
}

// stop takes what is on the rig off it, until it is settled which specimen is meant.
// What is typed stays in the form.
function stop(parts) {
  const box = byId("break-stop");
  now = null;
  tell("");
  box.replaceChildren(...parts);
  box.querySelector("h2").id = "stop-head";
  byId("break-rig").hidden = form.hidden = byId("break-done").hidden = true;
  box.hidden = false;
  byId("break-left-box").open = true;
  byId("choose").setAttribute("aria-invalid", "true");
  box.focus({ preventScroll: true });
  box.scrollIntoView({ block: "start" });
}

// What others do.

function following() {
  document.addEventListener("entry", (e) => {
    const { kind, subject, key, by, device, words } = e.detail;
    if (kind !== "broken" || !now || subject !== now.code || mine.has(key) || saving) return;
    if (waiting().some((w) => w.key === key)) return;
    const who = `${subject} was broken by ${by || "somebody"}${device ? " on " + device : ""} just now: ${words}.`;
    data.left = data.left.filter((c) => c.code !== subject);
    if (typed()) {
      tell(`${who} What you typed is still here: choose the specimen that it belongs to, or save it and decide then.`);
      return;
    }
    move();
    tell(`${who} ${now ? now.code + " is next." : "Nothing is left."}`);
  });
  document.addEventListener("refreshed", () => {
    readData();
    showKept();
    const gone = keptCodes();
    const left = data.left.filter((c) => !gone.has(c.code));
    if (!now) {
      if (left.length && byId("break-stop").hidden) put(left[0]);
      return;
    }
    now = { ...now, ...data.left.find((c) => c.code === now.code) };
    byId("break-next").textContent = left.find((c) => c.code !== now.code)?.code || "the last one";
    if (data.broken.includes(now.code) && !typed() && !saving) move();
  });
  document.addEventListener("submit", (e) => {
    const undo = e.target.dataset.undo;
    if (!undo) return;
    e.preventDefault();
    for (const b of e.target.querySelectorAll("button")) b.disabled = true;
    const words = e.target.dataset.words;
    send(undo, { undo: "1" }, { words, patience: 1500 }).then(({ state }) => {
      for (const b of e.target.querySelectorAll("button")) b.disabled = false;
      document.activeElement?.blur?.();
      tell(state === "written" ? `Taken back: ${words}.` : state === "kept" ? `Kept on this device: ${words}.` : "Not taken back: see above.");
      refresh();
    });
  });
}

// What is typed and not saved outlives a reload of the page.

const draftName = "break draft " + document.body.dataset.trial;

function draft() {
  const names = ["code", "peak", "zero", "unit", "area", "wood", "failure", "aside", "asidetext", "note", "moisture"];
  let old = null;
  try {
    old = JSON.parse(sessionStorage.getItem(draftName));
  } catch {
    // Not ours: left alone.
  }
  if (old && old.code === field("code").value && !typed()) {
    for (const name of names) if (name !== "code" && old[name] !== undefined && field(name)) field(name).value = old[name];
    field("wood").dispatchEvent(new Event("input", { bubbles: true }));
    if (form.querySelector("[name=asidetext]").value || field("note").value) form.querySelector(".break-extra").open = true;
    live();
  }
  form.addEventListener("input", () => {
    if (!typed()) return;
    const values = Object.fromEntries(names.map((name) => [name, field(name)?.value]));
    try {
      sessionStorage.setItem(draftName, JSON.stringify(values));
    } catch {
      // No room: what is saved goes before what is not.
    }
  });
}

// The unit that was chosen here last is chosen again.
function remembered() {
  const name = "break unit " + document.body.dataset.trial + (data.cal ? " " + data.cal.key : "");
  const unit = field("unit");
  const before = localStorage.getItem(name);
  if (before && !typed() && [...unit.options].some((o) => o.value === before)) unit.value = before;
  unit.addEventListener("change", () => {
    try {
      localStorage.setItem(name, unit.value);
    } catch {
      // It is chosen anew then.
    }
  });
  live();
}

readData();
if (form) {
  values();
  share();
  form.addEventListener("submit", bench ? save : correct);
}
if (bench) {
  now = byId("break-stop").hidden ? data.left.find((c) => c.code === field("code").value) || { code: field("code").value, lines: [] } : null;
  choosing();
  following();
  draft();
  remembered();
  choices(ways);
  showKept();
  const gone = !bench.hidden && keptCodes().has(now.code);
  if (gone) move();
  if (!bench.hidden && !location.hash) {
    // On a phone the way along the stations fills the screen: the code and the number come first.
    if (coarse()) document.querySelector(".break-safety").scrollIntoView({ block: "start" });
    else if (!byId("choose").value) field("peak").focus();
  }
}

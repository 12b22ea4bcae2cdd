// The form of a break, at the bench and where one is corrected: the number pad, the
// strength that comes of the number, the share of wood, and what is wrong with what is
// typed.
const bench = document.getElementById("break-form");
export const form = bench || document.getElementById("break-correct");
export const field = (name) => form.elements.namedItem(name);
export const byId = (id) => document.getElementById(id);

// data is what the page knows of the trial, as it was when it was last read.
export let data = {};
export function readData() {
  data = JSON.parse(byId("break-data")?.textContent || "{}");
}

export function coarse() {
  return matchMedia("(pointer: coarse)").matches;
}

// number reads a number as the logbook does; NaN: it is none, or may mean two.
function number(text) {
  let s = text.replace(/\s/g, "");
  if (!/^[0-9.,]+$/.test(s)) return NaN;
  const [whole, ...rest] = s.split(",");
  if (rest.length) {
    if ((rest[0].length === 3 && whole !== "" && whole !== "0") || rest.length > 1 || rest[0].includes(".")) return NaN;
    s = whole + "." + rest[0];
  }
  return /^(\d+\.?\d*|\.\d+)$/.test(s) ? Number(s) : NaN;
}

function areaNow() {
  return field("area") ? number(field("area").value) : data.area;
}

// strength returns MPa; NaN where it cannot be known.
function strength(peak, unitName, area) {
  const unit = data.units.find((u) => u.name === unitName);
  if (!unit) return NaN;
  return unit.stress ? peak * unit.factor : area > 0 ? (peak * unit.factor) / area : NaN;
}

function shown(mpa) {
  const x = mpa * data.per;
  if (data.tens && x >= 99.5) return (10 * Math.round(x / 10)).toFixed(0);
  return x.toFixed(x >= 99.95 ? 0 : x >= 0.995 ? 1 : 2);
}

function written(x, unit) {
  const n = Number(x.toPrecision(12));
  return `${n.toLocaleString("en-US", { maximumFractionDigits: 6, useGrouping: Math.abs(n) >= 10000 })} ${unit}`;
}

const rounded = (x, digits) => Number(x.toPrecision(digits));

// shareOfLimit is a peak over the rig's rated maximum; 0: not known.
function shareOfLimit(peak, unitName) {
  const unit = data.units.find((u) => u.name === unitName);
  const rated = data.units.find((u) => u.name === data.rated);
  if (!data.limit || !unit || !rated) return 0;
  if (!unit.stress && !rated.stress) return (peak * unit.factor) / (data.limit * rated.factor);
  return strength(peak, unitName, areaNow()) / strength(data.limit, data.rated, areaNow()) || 0;
}

export function live() {
  const out = byId("peak-said");
  const text = field("peak").value;
  const unit = field("unit").value;
  out.replaceChildren();
  if (!text.trim()) return;
  const peak = number(text);
  if (Number.isNaN(peak)) {
    out.append(make("span", "warned", "Not a number yet: digits and one point."));
    return;
  }
  const mpa = strength(peak, unit, areaNow());
  if (!Number.isNaN(mpa)) out.append(make("span", "break-strength", `${shown(mpa)} ${data.shown}`), make("span", "break-nominal", "nominal"));
  const part = shareOfLimit(peak, unit);
  const limit = written(data.limit || 0, data.rated);
  if (part > 1) out.append(make("span", "break-warn bad", `Above the rig's rated maximum of ${limit}. Stop and unload.`));
  else if (part >= 0.95) out.append(make("span", "break-warn bad", `${Math.round(100 * part)} % of the rig's rated maximum (${limit}). Go no higher.`));
  else if (part >= 0.8) out.append(make("span", "break-warn warned", `${Math.round(100 * part)} % of the rig's rated maximum (${limit}).`));
}

export function values() {
  const pad = form.querySelector(".break-pad");
  const peak = field("peak");
  pad.hidden = false;
  if (coarse()) peak.setAttribute("inputmode", "none");
  pad.addEventListener("pointerdown", (e) => e.preventDefault()); // the field keeps the keyboard
  pad.addEventListener("mousedown", (e) => e.preventDefault());
  pad.addEventListener("click", (e) => {
    const key = e.target.closest("button")?.dataset.pad;
    if (!key) return;
    if (key === "Clear") peak.value = "";
    else if (key === "⌫") peak.value = peak.value.slice(0, -1);
    else if (key !== "." || !peak.value.includes(".")) peak.value += key;
    peak.dispatchEvent(new Event("input", { bubbles: true }));
  });
  form.addEventListener("input", live);
  form.addEventListener("change", live);
  // Digits go into the value wherever the keyboard is, unless it is in a field.
  document.addEventListener("keydown", (e) => {
    if (form.hidden || e.ctrlKey || e.metaKey || e.altKey || !/^[0-9.,]$/.test(e.key)) return;
    if (e.target.closest("input:not([type=radio], [type=checkbox]), select, textarea, [contenteditable]")) return;
    peak.focus();
  });
  live();
}

// Share of wood.

export function share() {
  const wood = field("wood");
  const out = byId("wood-said");
  const say = () => (out.textContent = wood.value === "" ? "not looked at" : wood.value + " %");
  for (const hidden of form.querySelectorAll("[data-share], .break-share-quick")) hidden.hidden = false;
  form.addEventListener("click", (e) => {
    const step = e.target.closest("[data-share]")?.dataset.share;
    if (step === undefined) return;
    if (/^[+-]/.test(step)) {
      const from = wood.value === "" ? (step < 0 ? 100 : 0) : Number(wood.value);
      const next = step > 0 ? 5 * Math.floor(from / 5 + 1) : 5 * Math.ceil(from / 5 - 1);
      wood.value = wood.value === "" && step > 0 ? 5 : Math.min(100, Math.max(0, next));
    } else wood.value = step;
    wood.dispatchEvent(new Event("input", { bubbles: true }));
  });
  wood.addEventListener("input", say);
  form.addEventListener("reset", () => setTimeout(say));
  say();
}

// What is wrong is said beside its field.

const named = { woodshare: "wood", setaside: "asidetext", areamm2: "area" };

export function wrong(fields) {
  for (const place of form.querySelectorAll("[data-wrong]")) place.replaceChildren();
  for (const marked of form.querySelectorAll("[aria-invalid]")) marked.removeAttribute("aria-invalid");
  let first = null;
  for (const [name, words] of Object.entries(fields || {})) {
    const place = form.querySelector(`[data-wrong="${CSS.escape(name === "unit" ? "peak" : name)}"]`);
    const p = make("p", "wrong-here", words);
    p.setAttribute("role", "alert");
    place?.append(p);
    const input = field(named[name] || name);
    if (input instanceof Element) {
      input.setAttribute("aria-invalid", "true");
      if (place?.id) input.setAttribute("aria-describedby", place.id);
      const box = input.closest("details");
      if (box) box.open = true;
      first ||= input.type === "hidden" ? null : input;
    }
  }
  first?.focus();
}

// problem looks at the form before it is sent, as it may be long until the logbook
// can; it returns what is wrong by field. What is far from the others, or above the
// rig's maximum, is asked about once. now is the specimen on the rig.
export function problem(now) {
  const text = field("peak").value.trim();
  const aside = field("aside").value || field("asidetext").value.trim();
  if (!text) return aside ? null : { peak: "Type what the display showed, or say below why this one is set aside." };
  const peak = number(text);
  const unit = field("unit").value;
  if (Number.isNaN(peak)) return { peak: `“${text}” is not a number, or may mean two: write it with digits and a point.` };
  const mpa = strength(peak, unit, areaNow());
  if (Number.isNaN(mpa)) return { areamm2: "A force needs the bonded area to become a strength: give it in mm²." };
  if (mpa <= 0 && !aside) return { peak: "Type a number above 0, or say below why this one is set aside." };
  if (mpa > data.most && !aside) return { peak: `That would be ${shown(mpa)} ${data.shown}: no glued joint holds so much. Look at the number and its unit.` };
  const value = `${text} ${unit}`;
  if (aside || field("sure").value === value) return null;
  const question = asks(now, peak, unit, mpa);
  if (!question) return null;
  field("sure").value = value;
  return { peak: `${question} If it is, save it again; it is kept then.` };
}

function asks(now, peak, unit, mpa) {
  if (shareOfLimit(peak, unit) > 1) return `${written(peak, unit)} is more than the rig is rated for (${written(data.limit, data.rated)}): is the number right, and its unit?`;
  if (!now?.middle) return "";
  const others = `${now.others} (${written(rounded((now.middle * peak) / mpa, 3), unit)})`;
  if (mpa > now.high) return `${written(peak, unit)} is ${rounded(mpa / now.middle, 2)} times ${others}: is the point in its place?`;
  if (mpa < now.low) return `${written(peak, unit)} is 1/${rounded(now.middle / mpa, 2)} of ${others}: is the point in its place?`;
  return "";
}

// wordsOf says in a few words what is in the form.
export function wordsOf() {
  const parts = [];
  if (field("peak").value.trim()) parts.push(`${field("peak").value.trim()} ${field("unit").value}`);
  if (field("wood").value) parts.push(field("wood").value + " % wood");
  if (field("failure").value) parts.push(field("failure").value);
  const aside = [field("aside").value, field("asidetext").value.trim()].filter(Boolean).join("; ");
  if (aside) parts.push("set aside: " + aside);
  return `${field("code").value}: ${parts.join(", ")}`;
}

// fieldsOf is what is sent of the form.
export function fieldsOf() {
  const fields = new FormData(form);
  fields.set("sure", `${field("peak").value.trim()} ${field("unit").value}`);
  return fields;
}

export function make(name, className, text) {
  return Object.assign(document.createElement(name), { className, textContent: text });
}

// The form of a break, at the bench and where one is corrected: the number pad, the
// strength that comes of the number, the share of wood, and what is wrong with what is
// typed.
const bench = document.getElementById("break-form");
export const form = bench || document.getElementById("break-correct");
export const field = (name) => form.elements.namedItem(name);
export const byId = (id) => document.getElementById(id);

// data is what the page knows of the trial, as it was when it was last read.
export let data = {};
let anew = false; // the rig was calibrated since the page was loaded
let ahead = 0; // ms that the logbook's clock is ahead of the device's
export function readData() {
  const before = data.cal; // the form goes by it until the page is loaded again
  data = JSON.parse(byId("break-data")?.textContent || "{}");
  if (before !== undefined && before?.key !== data.cal?.key) {
    data.cal = before;
    anew = true;
  }
  ahead = data.now ? data.now - Date.now() : 0;
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

// whyNone says why a text is no number that is taken.
function whyNone(text) {
  if (/^\s*[-−]\s*[0-9]/.test(text)) return "is not a number from 0 on: write it without a sign";
  if (/^[0-9.,\s]*,[0-9.,\s]*$/.test(text) && /[0-9]/.test(text)) return "may mean two numbers: write it without a mark between thousands, and with a point before decimals";
  return "is not a number: write it with digits and a point";
}

function areaNow() {
  return field("area") ? number(field("area").value) : data.area;
}

// read reads a number as number does, and below 0 as well where the calibration reads
// the unit.
function read(text, unitName) {
  const minus = calibrated(unitName) && /^\s*[-−]/.test(text);
  return minus ? -number(text.replace(/[-−]/, "")) : number(text);
}

const calibrated = (unitName) => !!data.cal && data.cal.unit === unitName;

// force returns N by the calibration; NaN where no force shows this.
function force(shown) {
  const { c, centre, scale, fromzero } = data.cal;
  const zero = fromzero ? read(field("zero")?.value || "", data.cal.unit) : 0;
  const d = shown - zero - c[0];
  if (c.length === 2) return centre + (scale * d) / c[1];
  const under = c[1] * c[1] + 4 * c[2] * d;
  return under >= 0 ? centre + (scale * 2 * d) / (c[1] + (c[1] < 0 ? -1 : 1) * Math.sqrt(under)) : NaN;
}

// outside says where a force lies outside of the range that was calibrated.
function outside(newton) {
  const { low, high } = data.cal;
  if (newton >= low * (1 - 1e-9) && newton <= high * (1 + 1e-9)) return "";
  return `Outside the calibrated range, ${written(rounded(low, 3), "N")} to ${written(rounded(high, 3), "N")}: it is kept, and how well it is known is not.`;
}

// strength returns MPa; NaN where it cannot be known.
function strength(peak, unitName, area) {
  if (calibrated(unitName)) return area > 0 ? force(peak) / area : NaN;
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
  if (data.limit && rated && calibrated(unitName)) {
    return (rated.stress ? strength(peak, unitName, areaNow()) / strength(data.limit, data.rated, areaNow()) : force(peak) / (data.limit * rated.factor)) || 0;
  }
  if (!data.limit || !unit || !rated) return 0;
  if (!unit.stress && !rated.stress) return (peak * unit.factor) / (data.limit * rated.factor);
  return strength(peak, unitName, areaNow()) / strength(data.limit, data.rated, areaNow()) || 0;
}

export function live() {
  const out = byId("peak-said");
  const text = field("peak").value;
  const unit = field("unit").value;
  out.replaceChildren();
  if (bench) byId("break-unload").hidden = true;
  if (byId("zero-field")) byId("zero-field").hidden = !calibrated(unit);
  if (anew) out.append(make("span", "break-warn warned", "The rig was calibrated anew: load the page again before you save."));
  if (!text.trim()) return;
  const peak = read(text, unit);
  if (Number.isNaN(peak)) {
    out.append(make("span", "warned", "Not a number yet: digits and one point."));
    return;
  }
  const mpa = strength(peak, unit, areaNow());
  if (!Number.isNaN(mpa)) out.append(make("span", "break-strength", `${shown(mpa)} ${data.shown}`), make("span", "break-nominal", "nominal"));
  if (calibrated(unit) && !Number.isNaN(force(peak))) {
    out.append(make("span", "break-nominal", written(rounded(force(peak), 4), "N")));
    if (outside(force(peak))) out.append(make("span", "break-warn warned", outside(force(peak))));
  }
  const part = shareOfLimit(peak, unit);
  if (bench) byId("break-unload").hidden = part < 0.95;
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
    else if (key === "−") peak.value = peak.value.startsWith("-") ? peak.value.slice(1) : "-" + peak.value;
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

const named = { woodshare: "wood", setaside: "asidetext", areamm2: "area", early: "peak" };

export function wrong(fields) {
  for (const place of form.querySelectorAll("[data-wrong]")) place.replaceChildren();
  for (const marked of form.querySelectorAll("[aria-invalid]")) marked.removeAttribute("aria-invalid");
  let first = null;
  let seen = null;
  for (const [name, words] of Object.entries(fields || {})) {
    const place = form.querySelector(`[data-wrong="${CSS.escape(name === "unit" ? "peak" : name)}"]`);
    const p = make("p", "wrong-here", words);
    p.setAttribute("role", "alert");
    place?.append(p);
    if (place && (!seen || place.compareDocumentPosition(seen) & Node.DOCUMENT_POSITION_FOLLOWING)) seen = place;
    let input = field(named[name] || name);
    if (input instanceof RadioNodeList) {
      first ||= [...input].find((radio) => radio.checked) || input[0];
      input = null;
    }
    if (input instanceof Element) {
      input.setAttribute("aria-invalid", "true");
      if (place?.id) input.setAttribute("aria-describedby", place.id);
      const box = input.closest("details");
      if (box) box.open = true;
      first ||= input.type === "hidden" ? null : input;
    }
  }
  const notSaved = byId("break-not-saved");
  if (notSaved) notSaved.textContent = seen ? "Not saved yet: look at what is marked above." : "";
  first?.focus({ preventScroll: !!seen });
  if (!seen) return;
  const { top, bottom } = seen.getBoundingClientRect();
  if (top < 60 || bottom > innerHeight) seen.scrollIntoView({ block: "center" });
}

// problem looks at the form before it is sent, as it may be long until the logbook
// can; it returns what is wrong by field. What may be a slip is asked about once, in the
// words of package breaking. now is the specimen on the rig.
export function problem(now) {
  const text = field("peak").value.trim();
  const aside = field("aside").value || field("asidetext").value.trim();
  if (!text) return aside ? null : { peak: "Type what the display showed, or say below why this one is set aside." };
  const unit = field("unit").value;
  const peak = read(text, unit);
  if (Number.isNaN(peak)) return { peak: `“${text}” ${whyNone(text)}.` };
  if (calibrated(unit) && data.cal.fromzero && Number.isNaN(read(field("zero").value, unit))) return { zero: "Type what was shown at no load just before, 0 if the display was set to zero." };
  if (calibrated(unit) && Number.isNaN(force(peak))) return { peak: "No force shows this by the calibration: look at the number, and at the zero." };
  const mpa = strength(peak, unit, areaNow());
  if (Number.isNaN(mpa)) return { areamm2: "A force needs the bonded area to become a strength: give it in mm²." };
  if (mpa <= 0 && !aside) return { peak: "Type a number above 0, or say below why this one is set aside." };
  if (mpa > data.most && !aside) return { peak: `That would be ${shown(mpa)} ${data.shown}: no glued joint holds so much. Look at the number and its unit.` };
  if (aside) return null;
  const asked = field("sure").value.split("; ");
  const open = questions(now, peak, unit, mpa).filter(({ name }) => !asked.includes(names()[name]));
  if (!open.length) return null;
  field("sure").value = sure();
  return Object.fromEntries(open.map(({ at, words }) => [at, words]));
}

// names are those of the questions, with what each is about: about another value it is
// asked anew.
function names() {
  const value = `${field("peak").value.trim()} ${field("unit").value}`;
  return { far: value, faces: "faces", share: `share ${field("failure").value} ${field("wood").value.trim()}`, early: `early ${field("code").value}`, unloaded: `unloaded ${value}` };
}

const sure = () => Object.values(names()).join("; ");

function questions(now, peak, unit, mpa) {
  const out = [];
  const ask = (at, name, words) => out.push({ at, name, words });
  const far = asks(now, peak, unit, mpa);
  if (far) ask("peak", "far", `${far} If it is, save it again; it is kept then.`);
  const way = field("failure").value;
  const wood = field("wood").value.trim();
  const share = wood === "" ? NaN : Number(wood);
  if (!way && wood === "" && !field("rig").checked) ask("failure", "faces", "Nothing is said of the faces. Look at them and say it, or save all the same: the answer will then take it that the bond broke.");
  else if (share === 0 && ["SF", "CSF"].includes(way)) ask("woodshare", "share", "The way of failing says the wood failed, the share says none did. Put one of them right, or save all the same.");
  else if (share === 100 && ["CF", "AF"].includes(way)) ask("woodshare", "share", "The way of failing says the bond failed, the share says all is wood. Put one of them right, or save all the same.");
  const early = earlyWords(now);
  if (early) ask("early", "early", `It was ${early[0].toLowerCase()}${early.slice(1).replace(/\.$/, "")}. Is it the right specimen? If it is, save it again; it is kept then.`);
  const part = shareOfLimit(peak, unit);
  if (part >= 0.95 && !field("unloaded").checked) ask("unloaded", "unloaded", `That is ${Math.round(100 * part)} % of the rig's rated maximum. Unload it before you go near, tick that it is, and save.`);
  return out;
}

// earlyWords say what speaks against breaking a specimen yet; empty: nothing does.
export function earlyWords(card) {
  return card?.early && (!card.until || card.until > Date.now() + ahead) ? card.early : "";
}

function asks(now, peak, unit, mpa) {
  if (shareOfLimit(peak, unit) > 1) return `${written(peak, unit)} is more than the rig is rated for (${written(data.limit, data.rated)}): is the number right, and its unit?`;
  if (!now?.middle) return "";
  const middle = calibrated(unit) ? written(rounded(now.middle * areaNow(), 3), "N") : written(rounded((now.middle * peak) / mpa, 3), unit);
  const others = `${now.others} (${middle})`;
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
  fields.set("sure", sure());
  return fields;
}

export function make(name, className, text) {
  return Object.assign(document.createElement(name), { className, textContent: text });
}

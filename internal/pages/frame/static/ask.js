// Ask: rows come and go without a round trip, the shelf and the family of an adhesive
// fill in what they know, and lists of choices follow the names that are typed.
const form = document.querySelector("form.ask-form");
if (form) begin();

function begin() {
  let next = 1 + Math.max(0, ...[...form.querySelectorAll("[data-number]")].map((r) => Number(r.dataset.number) || 0));
  let typed = "unwritten" in form.dataset; // what is here is written nowhere else

  form.addEventListener("click", (e) => {
    const button = e.target.closest("button");
    if (button?.dataset.add) {
      e.preventDefault();
      add(button.dataset.add, next++);
      typed = true;
    } else if (button && "remove" in button.dataset) {
      e.preventDefault();
      remove(button.closest("[data-row]"));
      typed = true;
    }
  });
  form.addEventListener("input", () => (typed = true));
  form.addEventListener("change", (e) => {
    const field = e.target;
    const row = field.closest('[data-row="adhesive"]');
    if (row && field.dataset.key === "name") shelf(row, field.value);
    if (row && field.dataset.key === "family") usual(row);
    if (field.dataset.key === "name") choices();
    if (row) said(row.querySelector("details"));
    said(field.closest("details"));
  });
  form.addEventListener("submit", () => (typed = false));
  window.addEventListener("beforeunload", (e) => {
    if (typed) e.preventDefault();
  });
  zone();
}

// add puts a blank row behind the others and goes to its first field.
function add(kind, number) {
  const blank = form.querySelector(`template[data-blank="${kind}"]`);
  const row = document.importNode(blank.content, true).firstElementChild;
  for (const el of [row, ...row.querySelectorAll("*")]) {
    for (const a of [...el.attributes]) if (a.value.includes("__n__")) el.setAttribute(a.name, a.value.replaceAll("__n__", number));
  }
  form.querySelector(`[data-rows="${kind}"]`).append(row);
  entitle(kind);
  choices();
  row.querySelector("input, select").focus();
}

function remove(row) {
  const kind = row.dataset.row;
  row.remove();
  entitle(kind);
  choices();
  form.querySelector(`[data-add="${kind}"]`)?.focus();
}

// entitle numbers the rows of a kind anew.
function entitle(kind) {
  const rows = form.querySelectorAll(`[data-rows="${kind}"] > [data-row]`);
  rows.forEach((r, i) => {
    const legend = r.querySelector("legend");
    legend.textContent = legend.textContent.replace(/\s*\d*$/, "") + " " + (i + 1);
  });
  const words = form.querySelector(`[data-rows="${kind}"]`).closest("details")?.querySelector(":scope > summary .ask-said");
  if (words) words.textContent = rows.length || "none";
}

const fieldOf = (row, key) => row.querySelector(`[data-key="${key}"]`);

// shelf fills in what the shelf says of an adhesive, where nothing is typed yet.
function shelf(row, name) {
  const known = [...document.querySelectorAll("#shelf-names option")].find((o) => o.value.toLowerCase() === name.trim().toLowerCase());
  if (!known) return;
  for (const [key, value] of Object.entries(known.dataset)) {
    const field = fieldOf(row, key);
    if (field && !field.value && value) field.value = value;
  }
  usual(row);
}

// usual says what is taken for a family where the label's facts are left alone.
function usual(row) {
  const family = fieldOf(row, "family").selectedOptions[0]?.dataset;
  if (!family?.usual) return;
  for (const key of ["open", "clamp", "cure", "lowest_temperature_c"]) {
    const help = document.getElementById(fieldOf(row, key).id + "-help");
    const value = family[key];
    const like = help.textContent.split(". ")[0].replace(/\.$/, "");
    let left = value ? `Left alone: ${value}, usual for ${family.usual}.` : "Nothing is usual for this family: it is needed.";
    if (!value && key === "lowest_temperature_c") left = "Left alone: not checked.";
    help.textContent = `${like}. ${left}`;
  }
}

// said puts in a few words what is filled in of a part that folds.
function said(part) {
  const words = part?.querySelector(":scope > summary .ask-said");
  if (!words || part.querySelector(":scope > [data-rows]")) return;
  const filled = [...part.querySelectorAll("input, select, textarea")].filter((f) => f.value.trim());
  const parts = filled.slice(0, 3).map((f) => {
    const label = f.labels[0].firstChild.textContent.trim().replace(/, (mm|in|mm²|in²|%|°C)$/, "");
    const value = f.selectedOptions?.[0].text ?? f.value;
    return label[0].toLowerCase() + label.slice(1) + ": " + (value.length > 40 ? value.slice(0, 39) + "…" : value);
  });
  if (filled.length > 3) parts.push(`and ${filled.length - 3} more`);
  words.textContent = parts.join("; ") || "left alone";
}

// choices keeps the lists of names in step with the rows.
function choices() {
  const names = (kind) => [...form.querySelectorAll(`[data-rows="${kind}"] [data-key="name"]`)].map((f) => f.value.trim().replace(/\s+/g, " ")).filter(Boolean);
  const fill = (select, list, keep) => {
    const was = select.value;
    while (select.options.length > keep) select.remove(keep);
    for (const name of list) select.add(new Option(name, name));
    if (was && ![...select.options].some((o) => o.value === was)) select.add(new Option(was + " (none of the choices)", was));
    select.value = was;
  };
  const woods = names("wood");
  const control = document.getElementById("f-control");
  if (control) fill(control, names("adhesive"), 1);
  const pairs = document.getElementById("f-pairs");
  if (pairs) fill(pairs, names("factor"), 2);
  for (const scope of [form, ...[...form.querySelectorAll("template")].map((t) => t.content)]) {
    for (const select of scope.querySelectorAll('select[data-key="wood"]')) fill(select, woods, 1);
  }
}

// zone offers the time zones that the browser knows, this device's first.
function zone() {
  const list = document.getElementById("zones");
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const field = document.getElementById("f-work-time_zone");
  if (!list || !field) return;
  for (const z of Intl.supportedValuesOf?.("timeZone") ?? [here]) list.append(new Option("", z));
  if (!field.value && here && here !== "UTC" && !field.hasAttribute("aria-invalid")) field.value = here;
}

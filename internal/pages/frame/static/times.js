// Times that modules write: in the zone of the trial, as the page's other times are, and
// by the clock of 24 hours. A station says once which zone that is, where the device
// goes by another one.
const said = document.querySelector("[data-zone]");

export function clock(ms) {
  return written(ms, { hour: "2-digit", minute: "2-digit" });
}

function written(ms, parts) {
  try {
    return new Intl.DateTimeFormat("en-GB", { ...parts, timeZone: said?.dataset.zone || undefined }).format(ms);
  } catch {
    return new Intl.DateTimeFormat("en-GB", parts).format(ms); // a zone that the browser does not know
  }
}

if (said) {
  const full = { day: "numeric", hour: "2-digit", minute: "2-digit" };
  const now = Date.now();
  said.hidden = written(now, full) === new Intl.DateTimeFormat("en-GB", full).format(now);
}

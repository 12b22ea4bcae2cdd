// Follows the entries of the trial that is shown. What others write is shown within
// a second: every element with data-live is fetched again and put in its place. A
// station may listen for the event "entry" on document to do more.
let source = null;
let pending = 0;
let lost = false;
let last = Number(document.body.dataset.seq || 0); // the last entry that this page knows of
let held = false; // a live part was left alone, as somebody was in it

export function follow() {
  if (!document.querySelector("[data-live]")) return;
  document.addEventListener("visibilitychange", () => (document.hidden ? stop() : (start(), refresh())));
  addEventListener("pagehide", stop);
  addEventListener("pageshow", (e) => e.persisted && (start(), refresh()));
  document.addEventListener("focusout", () => held && soon());
  if (!document.hidden) start();
}

function soon() {
  clearTimeout(pending);
  pending = setTimeout(refresh, 120);
}

function start() {
  if (source) return;
  const trial = document.body.dataset.trial || "";
  source = new EventSource("/events?trial=" + encodeURIComponent(trial) + "&after=" + last);
  source.addEventListener("entry", (e) => {
    const detail = JSON.parse(e.data);
    if (detail.seq <= last) return;
    last = detail.seq;
    document.dispatchEvent(new CustomEvent("entry", { detail }));
    soon();
  });
  source.onopen = () => {
    if (lost) refresh();
    lost = false;
    say("");
  };
  source.onerror = () => {
    lost = true;
    say("No connection to the logbook. What you enter at Glue, Cure and Break is kept on this device and sent when it is back; do not load the page anew meanwhile.");
    if (source.readyState === EventSource.CLOSED) {
      stop();
      setTimeout(() => document.hidden || start(), 2000);
    }
  };
}

function stop() {
  source?.close();
  source = null;
}

// say shows at the top what there is to know of the connection; each of those who
// speak, such as the stream and the queue, has a sentence of its own there.
const said = new Map();

export function say(words, who = "stream") {
  const p = document.getElementById("line-state");
  if (!p) return;
  words ? said.set(who, words) : said.delete(who);
  const all = [...said.values()].join(" ");
  if (p.textContent !== all) p.textContent = all;
  p.hidden = !all;
}

let round = 0; // of refreshing

// refresh fetches the page and puts the live parts in their places. A part that
// holds what somebody is typing in is left alone until they leave it.
export async function refresh() {
  const mine = ++round;
  let text;
  try {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (!answer.ok) return;
    text = await answer.text();
  } catch {
    return;
  }
  if (mine !== round) return; // a later one is under way, which knows more
  held = false;
  const page = new DOMParser().parseFromString(text, "text/html");
  for (const old of document.querySelectorAll("[data-live]")) {
    const fresh = page.getElementById(old.id);
    if (!fresh || fresh.innerHTML === old.innerHTML) continue;
    if (old.contains(document.activeElement)) held = true;
    else old.replaceWith(document.importNode(fresh, true));
  }
  document.dispatchEvent(new CustomEvent("refreshed"));
}

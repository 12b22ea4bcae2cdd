// Looks and remarks go through the queue, so that a lost connection loses neither
// what was typed nor the photo. A slip that the logbook finds is shown beside what was
// typed; what is written is shown by loading the page anew.
import { drop, send } from "./queue.js";

const trial = document.body.dataset.trial;
let sending = false;

document.addEventListener("submit", async (e) => {
  const form = e.target;
  if (e.defaultPrevented || !form.dataset.keep) return;
  e.preventDefault();
  const p = form.querySelector(".cure-said");
  const button = form.querySelector("button");
  const words = form.dataset.keep;
  // A look long before its time is asked about once, also where there is no connection.
  const sure = form.elements.sure;
  if (sure) {
    const asked = sure.value !== "" || !form.dataset.early;
    sure.value = form.elements.about.value;
    if (!asked) {
      p.className = "cure-said wrong-here";
      p.textContent = form.dataset.early;
      p.hidden = false;
      p.scrollIntoView({ block: "center" });
      return;
    }
  }
  p.hidden = true;
  button.disabled = true;
  // A photo takes longer to send than a mark.
  const photo = form.elements.photo?.files.length > 0;
  sending = true;
  const { state, answer, key } = await send(form.action, new FormData(form), { words, trial, patience: photo ? 20000 : 3000 });
  sending = false;
  button.disabled = false;
  if (state === "refused") {
    drop(key);
    p.className = "cure-said wrong-here";
    p.textContent = answer?.error || "The logbook did not take it.";
    p.hidden = false;
    return;
  }
  if (state === "written" && !typed(form)) {
    location.reload();
    return;
  }
  form.reset();
  p.className = "cure-said good";
  p.textContent = state === "written" ? "Written down. Load the page anew to see it." : "Kept on this device, sent when the connection is back.";
  p.hidden = false;
});

// What others write is shown by loading the page anew, unless something is typed here.
document.addEventListener("entry", ({ detail }) => {
  if (!["cured", "noted", "taken back", "planned", "key opened"].includes(detail.kind)) return;
  if (!typed(null)) {
    location.reload();
    return;
  }
  const p = document.getElementById("cure-news");
  if (!sending) {
    p.textContent = `${detail.by || "Somebody"} has written something down meanwhile: ${detail.words}. Load the page anew when you are done here.`;
    p.hidden = false;
  }
});

document.addEventListener("queue", ({ detail }) => {
  if (detail.state === "written" && detail.entry.trial === trial && !sending && !typed(null)) location.reload();
});

// typed reports whether something is typed in another form of the page, which loading
// it anew would lose.
function typed(but) {
  return [...document.forms].some((f) => f !== but && [...f.elements].some((el) => (el.type === "radio" ? el.checked !== el.defaultChecked : el.tagName === "TEXTAREA" && el.value !== el.defaultValue) || (el.type === "file" && el.files.length)));
}

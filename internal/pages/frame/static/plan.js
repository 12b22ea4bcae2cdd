// Plan: says how far a plan in the making is, and shows the page anew when it is
// there, when somebody else made one, or when the key was opened.
const work = document.querySelector("[data-working]");
if (work) ask();

async function ask() {
  let state;
  try {
    const answer = await fetch(work.dataset.working, { headers: { Accept: "application/json" } });
    state = answer.ok ? await answer.json() : null;
  } catch {
    state = null; // no connection: ask again
  }
  if (state && state.state !== "working") {
    location.replace(location.pathname);
    return;
  }
  if (state) {
    const words = state.words + ".";
    const said = document.getElementById("plan-words");
    if (said.textContent !== words) said.textContent = words;
    const bar = document.getElementById("plan-bar");
    if (state.of > 0) {
      bar.max = state.of;
      bar.value = state.done;
    } else {
      bar.removeAttribute("value");
    }
  }
  setTimeout(ask, state ? 500 : 2000);
}

document.addEventListener("entry", (e) => {
  const writing = document.activeElement?.matches("input, textarea, select");
  if (["planned", "key opened"].includes(e.detail.kind) && !work && !writing) location.replace(location.pathname);
});

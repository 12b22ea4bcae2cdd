// Has the answer worked out at once, shows how far it is, and shows it when it is
// done. Without this the buttons do the same.
const pause = 400; // milliseconds between looks

let wait = 0;
// A page that comes back time and again without an answer is left to the button.
const tries = "answer-tries " + location.pathname + location.search;

function begin() {
  clearTimeout(wait);
  const box = document.getElementById("answers-work");
  if (!box) {
    sessionStorage.removeItem(tries);
    return;
  }
  const state = box.dataset.state;
  const stop = box.querySelector("form[action*='/answer/stop']");
  box.querySelector(".answers-look")?.setAttribute("hidden", "");
  if (state === "working" || state === "waiting") {
    stop?.addEventListener("submit", (e) => {
      e.preventDefault();
      stop.querySelector("button").disabled = true;
      post(box.dataset.stop, new URLSearchParams({ job: box.dataset.job })).then(() => location.reload(), () => location.reload());
    });
    look(box);
  } else if (state === "none" && "auto" in box.dataset) {
    const n = Number(sessionStorage.getItem(tries)) || 0;
    if (n >= 3) return;
    sessionStorage.setItem(tries, n + 1);
    post(box.dataset.run).then(() => location.reload(), () => {});
  }
}

async function post(address, body) {
  const answer = await fetch(address, { method: "POST", body, headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(answer.status);
  return answer.json();
}

// look asks how far it is, again and again; a lost connection is waited out.
async function look(box) {
  let how;
  try {
    const answer = await fetch(box.dataset.progress + "?job=" + encodeURIComponent(box.dataset.job), { headers: { Accept: "application/json" } });
    how = await answer.json();
  } catch {
    wait = setTimeout(look, 5 * pause, box);
    return;
  }
  if (how.state !== "working" && how.state !== "waiting") {
    location.reload();
    return;
  }
  const words = box.querySelector(".answers-words");
  if (words && words.textContent !== how.words) words.textContent = how.words;
  const bar = box.querySelector("progress");
  if (bar) bar.value = how.percent;
  wait = setTimeout(look, pause, box);
}

begin();

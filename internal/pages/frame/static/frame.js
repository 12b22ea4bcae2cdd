// What all pages do: fill in what the device's clock says, follow the news of
// entries, and ask before something is taken back.
import { follow } from "./follow.js";
import "./queue.js"; // sends what was kept while there was no connection

document.addEventListener("submit", (e) => {
  const said = e.target.elements.namedItem("said");
  if (said) said.value = Date.now();
  const question = e.submitter?.dataset.ask || e.target.dataset.ask;
  if (question && !confirm(question)) {
    e.preventDefault();
    e.stopImmediatePropagation();
  }
}, true);

// Fields that send their form as soon as they are chosen.
document.addEventListener("change", (e) => {
  if (e.target.matches("[data-send]")) e.target.form.requestSubmit();
});

follow();

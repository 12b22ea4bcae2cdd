// Helpers for the expressions that package chrome evaluates on a page.

const squeeze = (text) => text.replace(/\s+/g, ' ').trim();

const short = (text) => (text = squeeze(text)).length > 40 ? text.slice(0, 40) + '…' : text;

const shown = (el) => el.checkVisibility({ opacityProperty: true, visibilityProperty: true, contentVisibilityAuto: true });

// describe names an element so that a person finds it in the page.
function describe(el) {
  if (!el || el === document.body || el === document.documentElement) return 'the page';
  let name = el.localName;
  if (el.id) name += '#' + el.id;
  else if (el.getAttribute('name')) name += '[name=' + el.getAttribute('name') + ']';
  else if (el.classList.length) name += '.' + [...el.classList].join('.');
  const text = short(el.getAttribute('aria-label') || el.innerText || el.textContent || el.value || '');
  return text ? `${name} “${text}”` : name;
}

// textOf is what a reader sees of an element: its value if it is filled in.
function textOf(el) {
  if (el instanceof HTMLSelectElement) return [...el.selectedOptions].map((o) => squeeze(o.text)).join(', ');
  if (el instanceof HTMLInputElement || el instanceof HTMLTextAreaElement || el instanceof HTMLOutputElement) return el.value;
  return squeeze(el.innerText ?? el.textContent);
}

// place says where to press an element, or why it cannot be pressed yet.
function place(el) {
  if (!el) return { why: 'there is none' };
  if (!shown(el)) return { why: 'it is not visible' };
  if (el.disabled) return { why: 'it is disabled' };
  el.scrollIntoView({ behavior: 'instant', block: 'nearest', inline: 'nearest' });
  let box = el.getClientRects()[0];
  if (!box || !box.width || !box.height) return { why: 'it has no size' };
  let hit = hitAt(box);
  if (!reaches(hit, el)) {
    // Something that stays in place at an edge may lie over it.
    el.scrollIntoView({ behavior: 'instant', block: 'center', inline: 'nearest' });
    box = el.getClientRects()[0];
    hit = hitAt(box);
  }
  if (!reaches(hit, el)) return { why: 'it is covered by ' + describe(hit) };
  const view = window.visualViewport;
  return {
    x: box.left + box.width / 2 - view.offsetLeft,
    y: box.top + box.height / 2 - view.offsetTop,
  };
}

const hitAt = (box) => document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);

const reaches = (hit, el) =>
  hit && (el.contains(hit) || hit.contains(el) && hit.closest('a, button, label, summary') !== null || [...(el.labels ?? [])].some((l) => l.contains(hit)));

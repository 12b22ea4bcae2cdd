// Finds defects of a page's layout. Uses the helpers of page.js.

const px = (n) => Math.round(n) + ' px';
const cache = new Map();
const style = (el) => {
  if (!cache.has(el)) cache.set(el, getComputedStyle(el));
  return cache.get(el);
};
const hides = (overflow) => overflow === 'hidden' || overflow === 'clip';
const scrolls = (overflow) => overflow === 'auto' || overflow === 'scroll';

// holder is the next box outwards that can cut an element off: what is taken out of
// the flow skips those it does not depend on.
function holder(el) {
  const position = style(el).position;
  if (position === 'fixed') return null;
  if (position === 'absolute' && el.offsetParent !== undefined) return el.offsetParent;
  return el.parentElement;
}

// outOfSight tells what is kept for screen readers or until it gets the focus.
function outOfSight(el) {
  for (let at = el; at && at !== document.body; at = at.parentElement) {
    const s = style(at);
    if (s.position !== 'absolute' && s.position !== 'fixed') continue;
    const box = at.getBoundingClientRect();
    if (box.right + scrollX <= 0 || box.bottom + scrollY <= 0 || box.width <= 1.5 && box.height <= 1.5 || s.clipPath === 'inset(50%)' || s.clip === 'rect(0px, 0px, 0px, 0px)') return true;
  }
  return false;
}

// turned tells what does not run along the screen's edges: its box says little.
function turned(el) {
  for (let at = el; at; at = at.parentElement) {
    const m = at instanceof SVGGraphicsElement ? at.getScreenCTM() : new DOMMatrix(style(at).transform);
    if (m && Math.abs(m.a) > 1e-6 && Math.abs(m.b) > 1e-6) return true;
    if (at instanceof SVGGraphicsElement) at = at.ownerSVGElement ?? at;
  }
  return false;
}

const framed = (s) =>
  parseFloat(s.borderLeftWidth) > 0 && parseFloat(s.borderRightWidth) > 0 || !/^(transparent|rgba\(.*, 0\))$/.test(s.backgroundColor);

// runs are the lines of text on the page: {el, text, box, seen, whole}. box is where
// the line would be, seen what is left of it where it can be seen.
function runs() {
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const range = document.createRange();
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const el = node.parentElement;
    if (!squeeze(node.data) || /^(script|style|template|option|title|desc)$/.test(el.localName) || !shown(el) || outOfSight(el) || turned(el)) continue;
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) if (box.width > 1 && box.height > 1) found.push({ el, text: short(node.data), box });
  }
  for (const el of document.body.querySelectorAll('input:not([type=radio], [type=checkbox], [type=hidden], [type=range], [type=color]), textarea, select')) {
    if (shown(el) && !outOfSight(el)) found.push({ el, text: '', box: el.getBoundingClientRect() });
  }
  return found;
}

// cut follows a line outwards through the boxes around it. It returns the defect, if
// any, as {at, by, says}, and leaves in run.seen what remains of the line.
function cut(run) {
  let { left, right, top, bottom } = run.box;
  let defect = null;
  const blame = (at, by, how, where) => (defect ??= { at, by, says: `${describe(at)}: its text “${run.text}” ${how} by ${px(by)}${where}` });
  let flow = run.text !== '';
  const lean = run.box.height / 4; // a font's box is higher than its letters
  for (let at = run.el; at && at !== document.body && at !== document.documentElement; at = holder(at)) {
    const s = style(at);
    if (at !== run.el || run.text) {
      const box = at.getBoundingClientRect();
      const over = Math.max(right - box.right, box.left - left);
      const above = Math.max(bottom - box.bottom, box.top - top);
      if (hides(s.overflowX) && over > 1 && !at.title) blame(at, over, 'is cut off', ' at the side');
      if (hides(s.overflowY) && above > lean && !at.title) blame(at, above, 'is cut off', ' above or below');
      const out = over > 1 ? over : above > lean ? above : 0;
      if (flow && s.display !== 'inline' && framed(s) && s.overflowX === 'visible' && out) blame(at, out, 'spills out of its box', '');
      if (s.position === 'absolute' || s.position === 'fixed') flow = false;
      if (s.overflowX !== 'visible') [left, right] = [Math.max(left, box.left), Math.min(right, box.right)];
      if (s.overflowY !== 'visible') [top, bottom] = [Math.max(top, box.top), Math.min(bottom, box.bottom)];
    }
  }
  run.seen = { left, right, top, bottom };
  return defect;
}

// heldBySide tells whether an element lies in a box that scrolls or hides sideways: if
// anything sticks out of the screen, it is that box.
function heldBySide(el) {
  for (let at = holder(el); at && at !== document.body && at !== document.documentElement; at = holder(at)) {
    if (scrolls(style(at).overflowX) || hides(style(at).overflowX)) return true;
  }
  return false;
}

function stickingOut(width, lines) {
  const page = document.documentElement;
  if (page.clientWidth > width + 1) return [`the page: laid out ${px(page.clientWidth)} wide for a screen of ${width} px; is the viewport's meta element missing?`];
  const found = [];
  const blamed = [];
  const check = (el, box, what) => {
    const over = Math.max(box.right + scrollX - width, -(box.left + scrollX));
    if (over <= 1 || blamed.some((b) => b.contains(el)) || heldBySide(el)) return;
    blamed.push(el);
    found.push(`${describe(el)}: ${what} ${px(over)} out of the screen of ${width} px`);
  };
  for (const el of document.body.querySelectorAll('*')) {
    const box = el.getBoundingClientRect();
    if (!box.width || !box.height || el.ownerSVGElement || !shown(el) || outOfSight(el)) continue;
    check(el, box, 'sticks');
  }
  for (const run of lines) {
    check(run.el, run.box, 'its text sticks');
  }
  if (!found.length && page.scrollWidth > page.clientWidth + 1) found.push(`the page: scrolls sideways, ${px(page.scrollWidth)} wide on a screen of ${width} px`);
  return found;
}

// layer is the outermost box that lies over or beside the flow of the page on purpose.
function layer(el) {
  let found = null;
  for (let at = el; at && at !== document.body; at = at.parentElement) {
    const s = style(at);
    if (s.position === 'fixed' || s.position === 'sticky' || at.matches(':popover-open, dialog[open]') || s.position === 'absolute' && !/^(transparent|rgba\(.*, 0\))$/.test(s.backgroundColor)) found = at;
  }
  return found;
}

function overlapping(lines) {
  const found = [];
  const told = new Set();
  const seen = lines.filter((r) => r.seen.right - r.seen.left > 1 && r.seen.bottom - r.seen.top > 1);
  seen.sort((a, b) => a.seen.top - b.seen.top);
  for (let i = 0; i < seen.length; i++) {
    const a = seen[i];
    for (let j = i + 1; j < seen.length && seen[j].seen.top < a.seen.bottom; j++) {
      const b = seen[j];
      if (a.el === b.el || a.el.control === b.el || b.el.control === a.el) continue;
      const across = Math.min(a.seen.right, b.seen.right) - Math.max(a.seen.left, b.seen.left);
      const down = Math.min(a.seen.bottom, b.seen.bottom) - Math.max(a.seen.top, b.seen.top);
      const height = Math.min(a.seen.bottom - a.seen.top, b.seen.bottom - b.seen.top);
      if (across <= 2 || down <= 0.35 * height || layer(a.el) !== layer(b.el)) continue;
      const defect = `${describe(a.el)} and ${describe(b.el)}: overlap by ${px(across)} × ${px(down)}`;
      if (!told.has(defect)) found.push(defect);
      told.add(defect);
    }
  }
  return found;
}

// inSentence tells a link among words, which may be as small as the words are.
function inSentence(el) {
  if (el.localName !== 'a' || style(el).display !== 'inline') return false;
  let block = el.parentElement;
  while (block.parentElement && style(block).display === 'inline') block = block.parentElement;
  const walk = document.createTreeWalker(block, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    if (/\p{L}{2}/u.test(node.data) && !node.parentElement.closest('a, button') && shown(node.parentElement)) return true;
  }
  return false;
}

function smallTargets() {
  const found = [];
  const least = 44 - 0.5;
  for (const el of document.body.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button]')) {
    const boxes = [];
    if (shown(el) && !outOfSight(el)) boxes.push(el.getBoundingClientRect());
    if (/^(radio|checkbox|file)$/.test(el.type)) for (const l of el.labels) if (shown(l)) boxes.push(l.getBoundingClientRect());
    if (!boxes.length || el.disabled || inSentence(el)) continue;
    const width = Math.max(...boxes.map((b) => b.right)) - Math.min(...boxes.map((b) => b.left));
    const height = Math.max(...boxes.map((b) => b.bottom)) - Math.min(...boxes.map((b) => b.top));
    if (width < least || height < least) found.push(`${describe(el)}: ${px(width)} × ${px(height)} to press, less than 44 × 44`);
  }
  return found;
}

function shortenedButtons() {
  return [...document.body.querySelectorAll('input[type=submit], input[type=button], input[type=reset], input[type=number]')]
    .filter((el) => shown(el) && el.scrollWidth > el.clientWidth + 1)
    .map((el) => `${describe(el)}: its text “${short(el.value)}” is cut off by ${px(el.scrollWidth - el.clientWidth)} at the side`);
}

function defects(width, touched) {
  const lines = runs();
  const worst = new Map(); // one sentence for a box, whatever the number of its lines
  for (const d of lines.map(cut)) if (d && !(worst.get(d.at)?.by >= d.by)) worst.set(d.at, d);
  return [...new Set([
    ...stickingOut(width, lines),
    ...[...worst.values()].map((d) => d.says),
    ...shortenedButtons(),
    ...overlapping(lines),
    ...(touched ? smallTargets() : []),
  ])];
}

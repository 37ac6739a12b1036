// The words: a native text area, and laid over and beside it what the proof says of it.
//
// Under the text area lies a mirror of its text, line by line, set exactly alike; it gives the
// text area its height and tells where each line and passage stands, wrapped as it is.

import { calm, find, make, many } from "./dom.js";

const text = find("text");
const mirror = find("mirror");
const marks = find("marks");
const counts = find("counts");
const head = find("sheet-head");
const sheet = find("sheet");
const card = find("card");

let lines = [];
let starts = [0];
let proof = null;
let shownSize = -1; // -1: all sizes
let lit = [];
const listeners = { change: [], caret: [], repair: [], hover: [], swap: [] };

export const on = (what, act) => listeners[what].push(act);
const tell = (what, ...given) => listeners[what].forEach((act) => act(...given));

export const value = () => text.value;
export const caret = () => text.selectionStart;
export const focus = () => text.focus();

/** Put another text in place of all of it: a file opened, not an edit. */
export function replaceAll(words, { keepPlace = false } = {}) {
  const place = [text.selectionStart, text.selectionEnd, sheet.scrollTop];
  text.value = words;
  reflect();
  if (keepPlace) {
    text.setSelectionRange(place[0], place[1]);
    sheet.scrollTop = place[2];
  } else {
    text.setSelectionRange(0, 0);
    sheet.scrollTop = 0;
  }
  proof = null;
  card.hidden = true;
  layOver();
}

let editing = false;
const MOST_LINES = 200; // browsers insert line by line; beyond this it takes seconds

/** Edit as if typed, so that undo takes it back. */
export function edit(start, end, words) {
  const old = text.value;
  text.focus();
  text.setSelectionRange(start, end);
  let done = false;
  if (words.split("\n").length <= MOST_LINES) {
    remember();
    editing = true; // one change, however many events the browser makes of it
    done = words === ""
      ? start === end || document.execCommand("delete")
      : document.execCommand("insertText", false, words);
    editing = false;
  }
  if (!done) {
    // Too long, or a browser without native editing by script: undo is the page's own.
    text.setRangeText(words, start, end, "end");
    tell("swap", old);
  }
  typed();
}

export function select(start, end) {
  text.focus({ preventScroll: true });
  text.setSelectionRange(start, end);
  show(start);
}

/** Scroll so that a place in the text is well in view. */
export function show(place) {
  const box = boxes(place, place + 1)[0];
  if (!box) return;
  const room = sheet.clientHeight;
  const top = box.top + mirror.offsetTop;
  if (top < sheet.scrollTop + 48 || top > sheet.scrollTop + room - 140) {
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    sheet.scrollTo({ top: Math.max(0, top - room / 3), behavior: still ? "auto" : "smooth" });
  }
  const seen = sheet.getBoundingClientRect();
  if (seen.top < 0 || seen.bottom > innerHeight) sheet.scrollIntoView({ block: "nearest" });
}

// ---------------------------------------------------------------- the mirror

function reflect() {
  const now = text.value.split("\n");
  let first = 0;
  const most = Math.min(now.length, lines.length);
  while (first < most && now[first] === lines[first]) first++;
  let last = 0;
  while (last < most - first && now[now.length - 1 - last] === lines[lines.length - 1 - last]) last++;
  const old = mirror.children;
  const removed = lines.length - last - first;
  const added = now.length - last - first;
  for (let i = 0; i < Math.min(removed, added); i++) setLine(old[first + i], now[first + i]);
  if (added > removed) {
    const more = document.createDocumentFragment();
    for (let i = removed; i < added; i++) {
      const line = document.createElement("div");
      setLine(line, now[first + i]);
      more.append(line);
    }
    mirror.insertBefore(more, old[first + removed] ?? null);
  }
  for (let i = removed; i > added; i--) old[first + added].remove();
  lines = now;
  starts = [0];
  for (const line of lines) starts.push(starts[starts.length - 1] + line.length + 1);
}

function setLine(element, words) {
  // An empty line is as high as any other.
  element.textContent = words === "" ? "\u200b" : words;
}

/** 0-based line of an offset. */
export function lineOf(place) {
  let low = 0;
  let high = lines.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (starts[middle] <= place) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** The boxes a passage takes on the paper, one for each line of print it runs over. */
function boxes(start, end) {
  const out = [];
  const origin = mirror.getBoundingClientRect();
  const range = document.createRange();
  for (let n = lineOf(start); n < lines.length && starts[n] < end; n++) {
    const node = mirror.children[n]?.firstChild;
    if (!node || (lines[n] === "" && end - start > 1)) continue;
    const from = Math.max(0, start - starts[n]);
    const to = Math.min(node.length, end - starts[n]);
    range.setStart(node, Math.min(from, node.length));
    range.setEnd(node, Math.max(to, Math.min(from, node.length)));
    for (const box of range.getClientRects()) {
      if (!box.width && end > start + 1) continue;
      out.push({ left: box.left - origin.left, top: box.top - origin.top, width: box.width,
        height: box.height, line: n });
    }
  }
  return out;
}

// ---------------------------------------------------------------- laid over and beside

export function setProof(now) {
  proof = now;
  layOver();
  placeCard();
}

/** The findings as they stand in the text now, moved along with it. */
export const findings = () => proof?.findings ?? [];

export function setSize(size) {
  shownSize = size;
  layOver();
}

/** Light passages up (the words of a stitch): [[start, end], ...]. */
export function light(passages) {
  lit = passages;
  drawMarks();
}

const layOver = () => { drawMarks(); drawCounts(); };

function drawMarks() {
  const made = document.createDocumentFragment();
  for (const [start, end] of lit) {
    for (const box of boxes(start, end)) made.append(boxed(box, "lit"));
  }
  const current = proof ? proof.findings : [];
  current.slice(0, 300).forEach((finding, index) => {
    const flaws = boxes(finding.start, Math.max(finding.end, finding.start + 1));
    for (const box of flaws) {
      made.append(boxed(box, `flaw ${finding.severity}`, { "data-finding": index }));
    }
  });
  marks.replaceChildren(made);
}

function boxed(box, kind, more = {}) {
  const made = make("span", { class: kind, ...more });
  made.style.left = `${box.left}px`;
  made.style.top = `${box.top}px`;
  made.style.width = `${Math.max(box.width, 6)}px`;
  made.style.height = `${box.height}px`;
  return made;
}

export const number = (n) => (n === null || n === undefined ? "?" : String(n));
export const signed = (n) => (n > 0 ? `+${n}` : n < 0 ? `\u2212${-n}` : "");

function drawCounts() {
  if (!proof) {
    counts.replaceChildren();
    head.replaceChildren();
    return;
  }
  const sizes = proof.sizes;
  const digits = Math.max(3, ...proof.lines.slice(0, 400).map((line) => number(line.rows[0]?.counts[0]?.[0]?.[4]).length));
  // On a narrow page the words come first: one size beside them, all of them under "This row".
  const room = sheet.clientWidth > (sizes.length * (digits + 1) * 8.4) + 300;
  const all = sizes.length > 1 && shownSize < 0 && room;
  const shown = all ? sizes.map((_, i) => i) : [Math.max(0, shownSize)];
  const columns = all
    ? sizes.map((name, i) => name || `${i + 1}`)
    : [sizes.length > 1 ? `size ${sizes[shown[0]]}` : "sts", "change"];
  const slim = !all && sheet.clientWidth < 460;
  if (slim) columns.pop();
  let wide = all ? Math.max(3, ...columns.map((name) => Math.min(name.length, 7))) : slim ? 6 : 7;
  for (const line of proof.lines) {
    for (const row of line.rows) {
      for (const one of row.counts[0] ?? []) wide = Math.max(wide, number(one[4]).length + (all ? 0 : 1));
    }
  }
  const places = counts.parentElement;
  places.style.setProperty("--count-columns", String(columns.length));
  places.style.setProperty("--count-width", `${wide + 1}ch`);
  head.replaceChildren(
    make("span", { class: "head-words" }, proof.title || ""),
    make("span", { class: "head-counts" }, columns.map((name) => make("span", {}, name))));
  head.style.setProperty("--count-columns", String(columns.length));
  head.style.setProperty("--count-width", `${wide + 1}ch`);

  const wrong = new Map();
  for (const finding of proof.findings) {
    const line = lineOf(finding.start) + 1;
    const worse = wrong.get(line);
    if (worse !== "wrong") wrong.set(line, finding.severity);
  }
  const made = document.createDocumentFragment();
  made.append(make("div", { class: "unseen", role: "row" },
    make("span", { role: "columnheader" }, "Row"),
    columns.map((name) => make("span", { role: "columnheader" }, name))));
  for (const line of proof.lines) {
    const element = mirror.children[line.line - 1];
    if (!element) continue;
    const row = line.rows.at(-1);
    const kind = wrong.get(line.line) ?? "";
    const label = line.rows.length ? line.rows.map((one) => one.label).join(", ") : "cast on";
    const cells = all ? allSizes(line, row, shown) : oneSize(line, row, shown[0]).slice(0, columns.length);
    const entry = make("div", { class: `count ${kind}`, role: "row", "data-line": line.line },
      make("span", { role: "rowheader", class: "unseen" }, label), cells);
    entry.style.top = `${element.offsetTop}px`;
    entry.style.height = `${element.offsetHeight}px`;
    made.append(entry);
  }
  counts.replaceChildren(made);
}

function allSizes(line, row, shown) {
  return shown.map((size) => {
    if (line.begun) return cell(line.begun[size] ?? line.begun.at(-1), "begun");
    const first = row?.counts[0]?.find((one) => one[0] === size);
    const last = row?.counts.at(-1)?.find((one) => one[0] === size);
    if (!first && !last) return cell("\u2013", "none");
    const one = first ?? last;
    const kind = one[1] !== null && one[4] !== one[1] ? "changed" : "";
    const made = cell(number(one[4]), kind);
    if (last && first && last[4] !== first[4]) {
      made.append(make("i", { title: `${number(last[4])} after the last time through` },
        `\u2026${number(last[4])}`));
    }
    return made;
  });
}

function oneSize(line, row, size) {
  if (line.begun) return [cell(line.begun[size] ?? line.begun.at(-1), "begun"), cell("")];
  const times = (row?.counts ?? []).map((time) => time.find((one) => one[0] === size)).filter(Boolean);
  if (!times.length) return [cell("\u2013", "none"), cell("")];
  const first = times[0];
  const last = times.at(-1);
  const change = first[1] === null || first[4] === null ? "" : signed(first[4] - first[1]);
  const after = cell(number(first[4]), change ? "changed" : "");
  if (last[4] !== first[4]) {
    after.append(make("i", { title: `${number(last[4])} after the last time through` },
      `\u2026${number(last[4])}`));
  }
  return [after, cell(change, "change")];
}

const cell = (words, kind = "") => make("span", { role: "cell", class: kind || null }, String(words));

// ---------------------------------------------------------------- the card under a line

let carded = -1;
let dismissed = "";

/** Show the explanation of a finding under its line; -1 puts it away. */
export function openCard(index, { focusRepair = false } = {}) {
  carded = index;
  dismissed = "";
  placeCard();
  if (focusRepair) card.querySelector("button")?.focus();
}

function placeCard() {
  const finding = proof?.findings[carded];
  if (!finding || dismissed === finding.check + finding.start) {
    card.hidden = true;
    return;
  }
  const box = boxes(finding.start, Math.max(finding.end, finding.start + 1)).at(-1);
  if (!box) {
    card.hidden = true;
    return;
  }
  card.className = `card ${finding.severity}`;
  card.replaceChildren(...explained(finding));
  card.hidden = false;
  card.style.top = `${box.top + box.height + 8}px`;
  const room = mirror.clientWidth - card.offsetWidth;
  card.style.left = `${Math.max(0, Math.min(box.left - 12, room))}px`;
  card.style.setProperty("--point", `${Math.max(10, Math.min(box.left - parseFloat(card.style.left) + 10, card.offsetWidth - 24))}px`);
}

/** A finding in full: message, remedy, repairs. */
export function explained(finding) {
  const [first, ...others] = finding.repairs.map((repair, n) =>
    make("button", {
      type: "button", class: n ? "mend" : "mend strong",
      onclick: () => tell("repair", finding, repair),
    }, sentence(repair.says)));
  return [
    make("p", { class: "message" },
      make("b", { class: `kind ${finding.severity}` }, finding.severity), " ", finding.message),
    finding.hint ? make("p", { class: "hint" }, finding.hint) : null,
    first ? make("div", { class: "mends" }, first) : null,
    others.length ? make("details", { class: "others" },
      make("summary", {}, many(others.length, "other repair")),
      make("div", { class: "mends" }, others)) : null,
    finding.why ? make("details", { class: "why" },
      make("summary", {}, "Why this matters"), make("p", {}, finding.why)) : null,
  ].filter(Boolean);
}

const sentence = (words) => words.charAt(0).toUpperCase() + words.slice(1);

export function closeCard() {
  const finding = proof?.findings[carded];
  if (finding) dismissed = finding.check + finding.start;
  carded = -1;
  card.hidden = true;
}

export const cardOpen = () => !card.hidden;

/** The finding a place in the text belongs to, -1 for none. */
export function findingAt(place) {
  if (!proof) return -1;
  let best = -1;
  proof.findings.forEach((one, i) => {
    if (one.start <= place && place <= Math.max(one.end, one.start + 1)) {
      if (best < 0 || one.end - one.start < proof.findings[best].end - proof.findings[best].start) best = i;
    }
  });
  return best;
}

// ---------------------------------------------------------------- events

text.addEventListener("input", () => { if (!editing) typed(); });

function typed() {
  shift();
  reflect();
  layOver();
  card.hidden = true;
  carded = -1;
  lit = [];
  tell("change");
}

/** Until the new proof comes, marks after the edit move along with their words. */
let before = "";
function shift() {
  const now = text.value;
  if (proof) {
    const by = now.length - before.length;
    let from = 0;
    while (from < before.length && from < now.length && before[from] === now[from]) from++;
    const touched = from + Math.max(0, -by);
    const kept = [];
    for (const one of proof.findings) {
      if (one.end <= from) kept.push(one);
      else if (one.start >= touched) kept.push({ ...one, start: one.start + by, end: one.end + by, repairs: [] });
    }
    const lineShift = now.split("\n").length - lines.length;
    const at = lineOf(from) + 1;
    proof = {
      ...proof, findings: kept,
      lines: proof.lines.map((one) => (one.line > at ? { ...one, line: one.line + lineShift } : one)),
    };
  }
  before = now;
}
function remember() {
  before = text.value;
}
text.addEventListener("beforeinput", () => { if (!editing) remember(); });

let lastCaret = -1;
document.addEventListener("selectionchange", () => {
  if (document.activeElement !== text || text.selectionStart === lastCaret) return;
  lastCaret = text.selectionStart;
  tell("caret", lastCaret);
});

const hovering = calm((x, y) => {
  if (!document.caretPositionFromPoint) return;
  const found = document.caretPositionFromPoint(x, y);
  if (found?.offsetNode === text) tell("hover", found.offset);
}, 30);
text.addEventListener("pointermove", (event) => {
  if (event.pointerType === "mouse" && !event.buttons) hovering(event.clientX, event.clientY);
});
text.addEventListener("pointerleave", () => { hovering.stop(); tell("hover", -1); });

// A word processor's own line breaks and blanks become plain ones; the paste stays one step of undo.
text.addEventListener("paste", (event) => {
  const given = event.clipboardData?.getData("text/plain") ?? "";
  const plain = given.replace(/\r\n?|[\u000b\u2028\u2029]/g, "\n").replace(/\u00ad|\u200b|\ufeff/g, "");
  if (plain === given.replace(/\r\n?/g, "\n") || !plain) return;
  event.preventDefault();
  edit(text.selectionStart, text.selectionEnd, plain);
});

new ResizeObserver(calm(() => { layOver(); placeCard(); }, 16)).observe(mirror);
document.fonts?.ready.then(() => layOver());
reflect();

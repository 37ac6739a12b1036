// The list of findings, and how they are told to a screen reader.

import { find, make, button, many, say } from "./dom.js";
import * as words from "./words.js";

const list = find("findings");
let proof = null;
let current = -1;
let told = "";

const count = (kind) => proof.findings.filter((one) => one.severity === kind).length;

export function setProof(now, { quiet = false } = {}) {
  proof = now;
  current = Math.min(current, proof.findings.length - 1);
  draw();
  const summary = inWords();
  const first = proof.findings.find((one) => one.severity === "wrong") ?? proof.findings[0];
  const news = first ? `${summary}. Line ${first.line}: ${first.message}` : summary;
  if (news !== told && !quiet) say(news);
  told = news;
}

function inWords() {
  const wrong = count("wrong");
  const doubtful = count("doubtful");
  const remarks = count("remark");
  const parts = [];
  if (wrong) parts.push(`${wrong} wrong`);
  if (doubtful) parts.push(`${doubtful} doubtful`);
  if (remarks) parts.push(many(remarks, "remark"));
  if (!wrong) {
    parts.unshift(proof.lines.some((one) => one.rows.length) ? "Every row comes out" : "No rows yet");
  }
  return parts.join(", ");
}

function draw() {
  const verdict = find("verdict");
  const rows = proof.lines.some((one) => one.rows.length);
  verdict.dataset.kind = count("wrong") ? "wrong" : count("doubtful") ? "doubtful" : rows ? "sound" : "none";
  verdict.textContent = inWords();
  find("findings-sum").textContent = proof.findings.length ? many(proof.findings.length, "finding") : "";
  find("finding-on").disabled = find("finding-back").disabled = !proof.findings.length;
  if (!proof.findings.length) {
    list.replaceChildren(make("li", { class: "none" }, rows
      ? "Nothing to put right. Every row uses exactly the stitches there are."
      : "As soon as there are rows, they are counted and whatever does not come out is told here."));
    return;
  }
  list.replaceChildren(...proof.findings.slice(0, 300).map((one, index) =>
    make("li", { class: one.severity, "data-finding": index },
      make("div", { class: "where" },
        button(`Line ${one.line}`, () => go(index),
          { class: "go", "aria-label": `Go to line ${one.line}: ${one.message}` }),
        one.sizes.length && proof.sizes.length > 1
          ? make("span", { class: "soft" }, one.sizes.length > 1 ? `sizes ${one.sizes.join(", ")}` : `size ${one.sizes[0]}`) : null),
      make("div", { class: "what" }, words.explained(one)))));
  mark();
}

function mark() {
  for (const item of list.children) {
    item.classList.toggle("current", Number(item.dataset.finding) === current);
  }
}

export function go(index) {
  const one = proof?.findings[index];
  if (!one) return;
  current = index;
  words.select(one.start, one.end);
  words.openCard(index);
  mark();
  list.children[index]?.scrollIntoView({ block: "nearest" });
  say(`${one.severity}, line ${one.line}: ${one.message}${one.hint ? ". " + one.hint : ""}` +
    (one.repairs.length ? `. Alt and Enter: ${one.repairs[0].says}` : ""));
}

/** The next finding from the cursor on (or the one before it), round and round. */
export function step(by) {
  const all = proof?.findings ?? [];
  if (!all.length) {
    say("No findings");
    return;
  }
  const at = words.caret();
  let next;
  if (current >= 0 && all[current] && all[current].start <= at && at <= all[current].end) next = current + by;
  else if (by > 0) next = all.findIndex((one) => one.start >= at);
  else next = all.findLastIndex((one) => one.end <= at);
  if (next < 0 || next >= all.length) next = by > 0 ? 0 : all.length - 1;
  go(next);
}

export function setCurrent(index) {
  current = index;
  mark();
}

/** The repair at hand: of the current finding, or of the one at the cursor. */
export function repairAtHand() {
  const index = words.findingAt(words.caret());
  const one = proof?.findings[index >= 0 ? index : current];
  return one?.repairs.length ? [one, one.repairs[0]] : null;
}

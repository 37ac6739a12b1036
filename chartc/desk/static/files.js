// The file on the desk: opening, saving, and seeing to it that nothing typed is ever lost.

import { ask, Away, page, random, Refusal, wanted } from "./api.js";
import * as dialogs from "./dialogs.js";
import { calm, find, make, say } from "./dom.js";
import { dismiss, notice, shown } from "./notices.js";
import * as words from "./words.js";

const DOCUMENT = "desk-document";
const TEXT = "desk-text ";

/** name: of this text while it is unsaved; mark: of the file it came from, null for none */
let doc = fresh();
let about = null;
const listeners = { opened: [] };

export const on = (what, act) => listeners[what].push(act);
export const current = () => doc;
export const dirty = () => words.value() !== doc.saved;
export const known = () => about;

function fresh() {
  return { name: "d-" + random(), path: "", mark: null, saved: "", title: "" };
}

const lastPart = (path) => path.split("/").at(-1);

// ---------------------------------------------------------------- what is shown of it

export function showState() {
  const name = doc.path ? lastPart(doc.path) : doc.title || "Untitled";
  find("file-name").textContent = name;
  find("file-name").title = doc.path;
  const state = find("file-state");
  const changed = dirty();
  const words_ = changed ? "not saved" : doc.mark ? "saved" : "";
  if (state.textContent !== words_) state.textContent = words_;
  state.dataset.kind = changed ? "changed" : "same";
  document.title = `${changed ? "\u2022 " : ""}${name} \u2013 The desk`;
}

// ---------------------------------------------------------------- kept aside

function keepHere() {
  const { name, path, mark } = doc;
  try {
    sessionStorage.setItem(DOCUMENT, JSON.stringify({ name, path, mark, title: doc.title }));
    if (dirty()) localStorage.setItem(TEXT + name, JSON.stringify({ text: words.value(), path, mark, title: doc.title }));
    else localStorage.removeItem(TEXT + name);
  } catch {
    // The browser's own store is full or shut; the desk keeps the text as well.
  }
}

async function keepThere({ leaving = false } = {}) {
  if (!dirty()) return;
  const text = words.value();
  try {
    await ask("keep", {
      name: doc.name, path: doc.path, text, base: doc.mark ?? "", title: doc.title || firstLine(text),
    }, { keepalive: leaving && text.length < 30000 });
    dismiss("not-kept");
  } catch (error) {
    if (error instanceof Away) away();
    else if (error instanceof Refusal) notice("not-kept", `Unsaved text cannot be kept aside: ${error.message}.`, [], { kind: "wrong" });
  }
}
const keepSoon = calm(keepThere, 600);

const firstLine = (text) => (text.match(/\S.*/)?.[0] ?? "Untitled").slice(0, 80);

/** Called after every change of the text. */
export function changed() {
  keepHere();
  keepSoon();
  showState();
}

async function forget(name) {
  localStorage.removeItem(TEXT + name);
  try {
    await ask("forget", { name });
  } catch {
    // Offered back once more than needed, that is all.
  }
}

function away() {
  if (shown("away")) return;
  notice("away", "The desk was closed in the terminal. What you typed is still on this page.", [
    ["Save a copy", () => { download(new Blob([words.value()], { type: "text/plain" }), lastPart(doc.path) || "pattern.knit"); away(); }, true],
  ], { kind: "wrong", close: false });
}

export function download(blob, name) {
  const link = make("a", { href: URL.createObjectURL(blob), download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 30000);
}

// ---------------------------------------------------------------- putting a text on the desk

function putDown(next, text, saved) {
  if (dirty()) {
    // The text that makes way is kept and can be had back.
    const old = { ...doc, text: words.value() };
    keepSoon.stop();
    keepThere();
    notice("set-aside", `The unsaved text of \u201c${lastPart(old.path) || old.title || firstLine(old.text)}\u201d was kept.`,
      [["Take it back", () => takeBack(old.name)], ["Throw it away", () => forget(old.name)]]);
  }
  doc = { ...fresh(), ...next, saved };
  words.replaceAll(text);
  dismiss("changed");
  dismiss("others");
  keepHere();
  showState();
  holdLock();
  listeners.opened.forEach((act) => act());
  if (dirty()) keepSoon();
}

export function putNew(text = "", title = "") {
  putDown({ title }, text, "");
  words.focus();
}

export async function openPath(path) {
  let found;
  try {
    found = await ask("open", { path });
  } catch (error) {
    told(error);
    return false;
  }
  if (/\.(csv|tsv|svg)$/i.test(path)) return takeChart(found.text, lastPart(path));
  putDown({ path: found.path, mark: found.mark }, found.text, found.text);
  for (const kept of found.kept) if (!(await heldElsewhere(kept))) offer(kept, found.text);
  tellOthers(await others(found.others));
  return true;
}

function offer(kept) {
  notice(`kept-${kept.name}`,
    `Unsaved changes to \u201c${lastPart(kept.path) || kept.title || "a new pattern"}\u201d from ${when(kept.when)} were kept.`, [
      ["Take them back", () => takeBack(kept.name), true],
      ["Throw them away", () => forget(kept.name)],
    ]);
}

function when(seconds) {
  const then = new Date(seconds * 1000);
  const time = then.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  return then.toDateString() === new Date().toDateString() ? time : `${then.toLocaleDateString()}, ${time}`;
}

async function takeBack(name) {
  try {
    const kept = await ask("kept", { name });
    let saved = "";
    let mark = kept.base || null;
    if (kept.path) {
      try {
        const disk = await ask("open", { path: kept.path });
        saved = disk.mark === mark ? disk.text : null;
      } catch {
        mark = null;
      }
    }
    const samePlace = doc.path === kept.path && !dirty();
    doc = samePlace ? doc : doc;
    putDown({ path: kept.path, mark, title: kept.title, name }, kept.text, saved ?? "");
    if (saved === null) notice("changed", "The file on disk has changed since these words were typed. Saving will ask before it writes over it.");
    say("The unsaved text is back");
  } catch (error) {
    told(error);
  }
}

/** A chart from a spreadsheet or a drawing, put into words. */
export async function takeChart(text, name) {
  try {
    const { text: made, notes = [] } = await ask("take", { text, name });
    putNew(made, name.replace(/\.[^.]*$/, ""));
    notice("taken", `The chart \u201c${name}\u201d was put into words.${notes.length ? ` ${notes.join(" ")}` : ""}`);
    return true;
  } catch (error) {
    told(error);
    return false;
  }
}

export function told(error) {
  if (error instanceof Away) away();
  else if (error instanceof Refusal) notice("refused", sentence(error.message) + ".", [], { kind: "wrong" });
  else throw error;
}

const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);

// ---------------------------------------------------------------- saving

let saving = false;

export async function save({ over } = {}) {
  if (saving) return;
  if (!doc.path) {
    await saveAs();
    return;
  }
  await write(doc.path, over === undefined ? doc.mark : over);
}

export async function saveAs() {
  const given = await dialogs.open("Save the pattern", (shut) => {
    const title = doc.title || firstLine(words.value());
    const guess = doc.path || `${title.replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "").toLowerCase().slice(0, 60) || "pattern"}.knit`;
    const name = make("input", { type: "text", id: "save-name", value: guess, autofocus: true, required: true });
    const go = () => shut(name.value.trim());
    name.addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); go(); } });
    return [
      make("label", { for: "save-name" }, `Name of the file in the folder \u201c${about?.folder ?? ""}\u201d`),
      name,
      make("div", { class: "answers" }, make("button", { type: "button", class: "strong", onclick: go }, "Save")),
    ];
  });
  if (given) await write(given, given === doc.path ? doc.mark : null);
}

async function write(path, base) {
  saving = true;
  const text = words.value();
  keepSoon.stop();
  try {
    const saved = await ask("save", { path, text, base, name: doc.name });
    localStorage.removeItem(TEXT + doc.name);
    doc = { ...doc, path: saved.path, mark: saved.mark, saved: text };
    dismiss("changed");
    keepHere();
    holdLock();
    if (dirty()) keepSoon();
    say("Saved");
  } catch (error) {
    keepSoon();
    if (error instanceof Refusal && error.status === 409) await clash(path, error.more.disk);
    else told(error);
  } finally {
    saving = false;
    showState();
  }
}

async function clash(path, disk) {
  const name = lastPart(path);
  if (!disk) {
    const answer = await dialogs.ask("The file has gone", `\u201c${name}\u201d is no longer in its folder.`,
      [["Write it again", "again", true], ["Leave it", null]]);
    if (answer) await write(path, null);
    return;
  }
  if (path !== doc.path) {
    const answer = await dialogs.ask("There is such a file already", `\u201c${name}\u201d is there already. Saving would write over it.`,
      [["Choose another name", "name", true], ["Write over it", "over"]]);
    if (answer === "over") await write(path, disk.mark);
    if (answer === "name") await saveAs();
    return;
  }
  const answer = await dialogs.ask("The file has changed on disk",
    [`\u201c${name}\u201d was changed by something else since it was opened here. Both texts are safe until you choose.`,
      difference(words.value(), disk.text)],
    [["Save mine over it", "mine"], ["Take the one on disk", "disk"], ["Save mine under another name", "name", true]]);
  if (answer === "mine") await write(path, disk.mark);
  if (answer === "name") await saveAs();
  if (answer === "disk") putDown({ path, mark: disk.mark }, disk.text, disk.text);
}

/** The first lines in which two texts differ. */
function difference(mine, its) {
  const a = mine.split("\n");
  const b = its.split("\n");
  let at = 0;
  while (at < a.length && at < b.length && a[at] === b[at]) at++;
  return make("dl", { class: "difference" },
    make("dt", {}, `Yours, line ${at + 1}`), make("dd", {}, a[at] ?? "(the end)"),
    make("dt", {}, "On disk"), make("dd", {}, b[at] ?? "(the end)"));
}

// ---------------------------------------------------------------- other pages, and the disk

let release = null;

/** While this page has a file open it holds a lock named after both; a crash lets go of it. */
function holdLock() {
  if (!navigator.locks) return;
  release?.();
  navigator.locks.request(`desk ${page} ${doc.name} ${doc.path}`, () => new Promise((resolve) => { release = resolve; }));
}

async function held() {
  if (!navigator.locks) return [];
  const { held: locks } = await navigator.locks.query();
  return locks.map((one) => one.name.split(" ")).filter(([sign, who]) => sign === "desk" && who !== page);
}

const heldElsewhere = async (kept) => (await held()).some((one) => one[2] === kept.name);

const others = async (fromDesk) => Math.max(fromDesk,
  doc.path ? (await held()).filter((one) => one.slice(3).join(" ") === doc.path).length : 0);

let othersTold = 0;

function tellOthers(n) {
  if (n && !othersTold) {
    notice("others", "This file is open on another page as well. Whoever saves second will be asked before anything is written over.");
  }
  if (!n) dismiss("others");
  othersTold = n;
}

async function look() {
  let found;
  try {
    found = await ask("watch", { path: doc.path });
  } catch (error) {
    if (error instanceof Away) away();
    else if (error instanceof Refusal && error.status === 401) lostKey();
    return;
  }
  if (shown("away")) {
    dismiss("away");
    keepThere();
  }
  if (!doc.path || saving) return;
  tellOthers(await others(found.others));
  if (found.mark === doc.mark || doc.mark === null || saving) return;
  if (found.mark === null) {
    if (!shown("changed")) notice("changed", "The file has gone from its folder. Saving writes it again.");
    return;
  }
  if (dirty()) {
    if (!shown("changed")) {
      notice("changed", "The file was changed on disk by something else while you were typing.", [
        ["See and choose", () => save(), true],
      ], { kind: "doubtful" });
    }
    return;
  }
  try {
    const disk = await ask("open", { path: doc.path });
    if (dirty() || disk.path !== doc.path) return;
    doc = { ...doc, mark: disk.mark, saved: disk.text };
    if (disk.text !== words.value()) {
      words.replaceAll(disk.text, { keepPlace: true });
      listeners.opened.forEach((act) => act({ same: true }));
      notice("changed", "The file was changed on disk; the new words are shown.");
    }
    keepHere();
    showState();
  } catch (error) {
    told(error);
  }
}

export function lostKey() {
  notice("key", "This page has lost the key of this run. Open it again at the address the terminal shows; what you typed is kept.",
    [], { kind: "wrong", close: false });
}

// ---------------------------------------------------------------- dialogs

export async function chooseFile() {
  try {
    about = await ask("about");
  } catch (error) {
    told(error);
    return;
  }
  const path = await dialogs.open(`Open from \u201c${about.folder}\u201d`, (shut) => dialogs.choices(
    about.files.map((one) => ({
      words: lastPart(one.path), value: one.path,
      says: [one.path.includes("/") ? one.path.slice(0, one.path.lastIndexOf("/")) : "", one.kind === "chart" ? "chart, will be put into words" : ""].filter(Boolean).join(", "),
    })), shut, { narrow: "Part of a name", empty: "There are no patterns in this folder yet." }));
  if (path) await openPath(path);
}

export async function chooseNew() {
  const name = await dialogs.open("New pattern", (shut) => dialogs.choices([
    { words: "An empty page", value: " " },
    ...(about?.samples ?? []).map((one) => ({
      words: one.title, value: one.name,
      says: one.kind === "slip" ? "sample with a slip to find" : "sample",
    })),
  ], shut, { narrow: "Find a sample" }));
  if (name === null) return;
  if (name === " ") {
    putNew();
    return;
  }
  try {
    const { text } = await ask("sample", { name });
    putDown({ title: firstLine(text) }, text, text);
    words.focus();
  } catch (error) {
    told(error);
  }
}

// ---------------------------------------------------------------- beginning and leaving

export async function begin() {
  about = await ask("about");
  let before = null;
  try {
    before = JSON.parse(sessionStorage.getItem(DOCUMENT));
  } catch {
    before = null;
  }
  const reloaded = before && performance.getEntriesByType("navigation")[0]?.type !== "navigate";
  if (reloaded) await restore(before);
  else if (wanted) await openPath(wanted);
  else if (about.first && about.files.some((one) => one.path === about.first)) await openPath(about.first);
  else if (about.first) putDown({ path: about.first }, "", "");
  else {
    holdLock();
    showState();
  }
  const offered = about.kept.filter((one) => one.name !== doc.name && (one.path === "" || one.path !== doc.path));
  for (const kept of offered.slice(0, 3)) if (!(await heldElsewhere(kept))) offer(kept);
  setInterval(look, 2500);
  if (!reloaded && !wanted && !about.first && about.files.length && !offered.length) chooseFile();
}

/** After a reload: the same text on the same page, saved or not. */
async function restore(before) {
  let unsaved = null;
  try {
    unsaved = JSON.parse(localStorage.getItem(TEXT + before.name));
  } catch {
    unsaved = null;
  }
  if (!unsaved) unsaved = await ask("kept", { name: before.name }).catch(() => null);
  let disk = null;
  if (before.path) disk = await ask("open", { path: before.path }).catch(() => null);
  if (!unsaved) {
    if (disk) putDown({ ...before, mark: disk.mark }, disk.text, disk.text);
    else putDown(before, "", "");
    return;
  }
  const same = (disk?.mark ?? null) === before.mark;
  putDown(before, unsaved.text, same && disk ? disk.text : "");
}

addEventListener("pagehide", () => {
  keepHere();
  keepSoon.stop();
  keepThere({ leaving: true });
  ask("watch", { path: doc.path, leaving: true }, { keepalive: true }).catch(() => {});
});

addEventListener("beforeunload", () => { keepHere(); });

// The desk: wires the words, the findings, the chart and the file together.

import { ask, Away, enter, Refusal } from "./api.js";
import * as chart from "./chart.js";
import * as dialogs from "./dialogs.js";
import { button, calm, find, make, many, say } from "./dom.js";
import * as files from "./files.js";
import * as findings from "./findings.js";
import { notice, dismiss, whileBusy } from "./notices.js";
import { prepare } from "./printing.js";
import { showRow } from "./row.js";
import * as words from "./words.js";

const SETTINGS = "desk-settings";
const CHOICES = ["pattern_rows", "mirrored", "as_worked", "drift", "gauge", "numbers", "whole", "uk"];

let proof = null;
let size = -1;
let part = -1; // -1: the part the cursor is in
let section = 0;
let settings = { place: "beside" };
try {
  settings = { ...settings, ...JSON.parse(localStorage.getItem(SETTINGS) ?? "{}") };
} catch {
  // Settings that cannot be read are as good as none.
}

// ---------------------------------------------------------------- the proof, as one types

/** Work through the newest text only: while one is out, the next waits and is replaced. */
function newest(act) {
  let busy = false;
  let again = false;
  const run = async () => {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    try {
      await act();
    } finally {
      busy = false;
      if (again) {
        again = false;
        run();
      }
    }
  };
  return run;
}

let typedAt = 0;
let opening = false;

/** Tests and the curious can see what has been done, and how long it took. */
function note(what, text, begun) {
  const data = document.documentElement.dataset;
  data[what] = String(text.length);
  data[`${what}Took`] = String(Math.round(performance.now() - begun));
}

const countNow = newest(async () => {
  const text = words.value();
  const begun = typedAt;
  let found;
  try {
    found = await ask("count", { text });
    dismiss("proof");
  } catch (error) {
    failed(error, "proof");
    return;
  }
  if (text !== words.value()) return; // a newer one is on its way
  proof = { ...found, findings: words.findings() };
  words.setProof(proof);
  pickers();
  rowAtCaret();
  note("counted", text, begun);
  drawNow();
  tellFindings();
});

let told = null; // the findings of the newest text that has them, and that text

const findNow = newest(async () => {
  const text = words.value();
  const begun = typedAt;
  try {
    told = { text, ...(await ask("proof", { text })) };
  } catch (error) {
    failed(error, "proof");
    return;
  }
  if (text === words.value()) {
    tellFindings();
    note("proved", text, begun);
  }
});

/** Counts and findings of the same text are shown together, whichever came first. */
function tellFindings() {
  if (!proof || told?.text !== words.value()) return;
  const first = opening;
  opening = false;
  proof = { ...proof, findings: told.findings };
  words.setProof(proof);
  findings.setProof(proof, { quiet: first && !proof.findings.length });
}

const proveNow = () => {
  countNow();
  findNow();
};

const drawNow = newest(async () => {
  if (settings.place === "away" || !proof?.sections.length) {
    if (proof && !proof.sections.length) chart.setChart({ none: "there are no rows to draw yet" });
    return;
  }
  const text = words.value();
  choosePart();
  const wish = wished();
  try {
    const found = await ask("chart", { text, wish });
    if (text !== words.value()) return;
    chart.setChart(found);
    if (document.activeElement === find("text")) chart.lightWords(words.caret(), { take: true });
    document.documentElement.dataset.drawn = String(text.length);
  } catch (error) {
    failed(error, "chart");
  }
});

/** What the chart is to show. */
function wished() {
  const wish = { section, size: Math.max(0, size), one: size >= 0, usage: settings.uk ? "uk" : "us" };
  for (const one of CHOICES) if (one !== "uk") wish[one] = Boolean(settings[one]);
  return wish;
}

function failed(error, what) {
  if (error instanceof Refusal) {
    if (error.more.newer) return;
    if (error.status === 401) files.lostKey();
    else if (what === "proof") notice("proof", sentence(error.message) + ".", [], { kind: "doubtful" });
    else chart.setChart({ none: error.message });
  } else if (error instanceof Away) {
    files.told(error);
  } else {
    throw error;
  }
}

const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);

function textChanged() {
  typedAt = performance.now();
  files.changed();
  requestAnimationFrame(proveNow);
}

words.on("change", textChanged);
files.on("opened", ({ same = false } = {}) => {
  opening = true;
  proof = null;
  if (!same) {
    part = -1;
    section = 0;
    size = -1;
    chart.clear();
  }
  typedAt = performance.now();
  proveNow();
});

// ---------------------------------------------------------------- sizes and parts

function pickers() {
  const choose = find("size");
  const names = proof.sizes;
  if (size >= names.length) size = names.length > 1 ? -1 : 0;
  const wanted = names.length > 1 ? ["All sizes", ...names] : ["One size"];
  if ([...choose.options].map((one) => one.text).join("\n") !== wanted.join("\n")) {
    choose.replaceChildren(...wanted.map((name, i) => make("option", { value: names.length > 1 ? i - 1 : 0 }, name)));
  }
  find("size-pick").hidden = names.length < 2;
  choose.value = String(names.length > 1 ? size : 0);

  const parts = find("part");
  const offered = ["The part at the cursor", ...proof.sections.map((one) => one.name)];
  if ([...parts.options].map((one) => one.text).join("\n") !== offered.join("\n")) {
    parts.replaceChildren(...offered.map((name, i) => make("option", { value: i - 1 }, name)));
  }
  if (part >= proof.sections.length) part = -1;
  parts.value = String(part);
}

function choosePart() {
  if (part >= 0) {
    section = part;
    return;
  }
  const at = words.caret();
  const here = proof.sections.findIndex((one) => one.start <= at && at <= one.end && one.rows);
  if (here >= 0) section = here;
  else if (!proof.sections[section]?.rows) section = Math.max(0, proof.sections.findIndex((one) => one.rows));
}

find("size").addEventListener("change", (event) => {
  size = Number(event.target.value);
  words.setSize(size);
  drawNow();
});
find("part").addEventListener("change", (event) => {
  part = Number(event.target.value);
  drawNow();
});

// ---------------------------------------------------------------- words and chart, together

function rowAtCaret() {
  const at = words.caret();
  showRow(proof, words.lineOf(at) + 1, at);
}

words.on("caret", (at) => {
  if (!proof) return;
  rowAtCaret();
  chart.lightWords(at, { take: true });
  words.light([]);
  const before = section;
  choosePart();
  if (section !== before) drawNow();
  const index = words.findingAt(at);
  findings.setCurrent(index);
  if (index >= 0) restOnFlaw(index);
  else {
    restOnFlaw.stop();
    if (words.cardOpen()) words.openCard(-1);
  }
});

// The card opens when the cursor rests in a flawed passage, not while one types through it.
const restOnFlaw = calm((index) => words.openCard(index), 500);

words.on("swap", (old) => notice("swap", "What was pasted is long; control and Z does not reach back over it.", [
  ["Take it out again", () => { words.replaceAll(old, { keepPlace: true }); textChanged(); }],
]));

words.on("hover", (at) => chart.lightWords(at));
chart.on("light", (passages) => words.light(passages));
chart.on("go", (start, end) => words.select(start, end));

words.on("repair", (finding, repair) => {
  words.closeCard();
  words.edit(repair.start, repair.end, repair.text);
  say(`Repaired: ${repair.says}. Control and Z takes it back.`);
});

function repairHere() {
  const found = findings.repairAtHand();
  if (!found) {
    say("There is no repair here");
    return;
  }
  const [, repair] = found;
  words.closeCard();
  words.edit(repair.start, repair.end, repair.text);
  say(`Repaired: ${repair.says}. Control and Z takes it back.`);
}

// ---------------------------------------------------------------- view

function keepSettings() {
  try {
    localStorage.setItem(SETTINGS, JSON.stringify(settings));
  } catch {
    // They last as long as the page, then.
  }
}

find("key").addEventListener("toggle", () => {
  settings.key = find("key").open;
  keepSettings();
});

function applySettings() {
  // On a low page the key would take the chart's room; it opens when asked for.
  find("key").open = settings.key ?? innerHeight >= 950;
  find("desk").dataset.place = settings.place;
  for (const name of CHOICES) document.querySelector(`#view input[name="${name}"]`).checked = Boolean(settings[name]);
  for (const one of document.querySelectorAll('#view input[name="place"]')) one.checked = one.value === settings.place;
}

find("view").addEventListener("change", (event) => {
  const { name, value, checked, type } = event.target;
  if (type === "radio") settings[name] = value;
  else settings[name] = checked;
  keepSettings();
  applySettings();
  drawNow();
});
addEventListener("pointerdown", (event) => {
  if (!find("view").contains(event.target)) find("view").open = false;
});

// ---------------------------------------------------------------- buttons and keys

const act = (id, what) => find(id).addEventListener("click", what);
act("do-new", () => files.chooseNew());
act("do-open", () => files.chooseFile());
act("do-save", () => files.save());
act("do-send", () => sendOut());
act("do-compare", () => compare());
act("do-print", () => print_());
act("do-help", () => help());
act("finding-on", () => findings.step(1));
act("finding-back", () => findings.step(-1));

addEventListener("keydown", (event) => {
  const control = event.ctrlKey || event.metaKey;
  if (control && !event.altKey && event.key.toLowerCase() === "s") {
    event.preventDefault();
    if (event.shiftKey) files.saveAs();
    else files.save();
  } else if (control && !event.shiftKey && !event.altKey && event.key.toLowerCase() === "o") {
    event.preventDefault();
    files.chooseFile();
  } else if (event.key === "F8") {
    event.preventDefault();
    findings.step(event.shiftKey ? -1 : 1);
  } else if (event.altKey && event.key === "Enter" && document.activeElement === find("text")) {
    event.preventDefault();
    repairHere();
  } else if (event.key === "F1") {
    event.preventDefault();
    help();
  } else if (event.key === "F6") {
    event.preventDefault();
    nextPane(event.shiftKey ? -1 : 1);
  } else if (event.key === "Escape" && !find("dialog").open) {
    if (find("view").open) {
      find("view").open = false;
      find("view").querySelector("summary").focus();
    } else if (words.cardOpen()) {
      words.closeCard();
      words.focus();
    }
  }
});

/** F6 goes from pane to pane. */
function nextPane(by) {
  const panes = [find("text"), find("findings").querySelector("button") ?? find("verdict"), find("board"), find("do-new")]
    .filter((one) => one.offsetParent !== null);
  const here = panes.findIndex((one) => one === document.activeElement || one.closest("section, header")?.contains(document.activeElement));
  const next = panes[(here + by + panes.length) % panes.length];
  next.focus();
}

// ---------------------------------------------------------------- dialogs

async function sendOut() {
  const kinds = files.known()?.exports ?? [];
  const kind = await dialogs.open("Send out", (shut) => [
    make("p", { class: "soft" }, `Charts are of \u201c${proof?.sections[section]?.name ?? "the pattern"}\u201d as it is shown.`),
    ...dialogs.choices(kinds.map((one) => ({
      words: one.title, says: one.missing ? one.missing : one.says, value: one.key, disabled: one.missing,
    })), shut),
  ]);
  if (!kind) return;
  const wish = wished();
  try {
    const answer = await whileBusy("The file is being made \u2026", ask("export",
      { text: words.value(), kind, wish, name: files.current().path }, { raw: true }));
    const name = answer.headers.get("x-file-name");
    files.download(await answer.blob(), name);
    say(`${name} was sent to your downloads`);
  } catch (error) {
    files.told(error);
  }
}

async function compare() {
  let about;
  try {
    about = await ask("about");
  } catch (error) {
    files.told(error);
    return;
  }
  const others = about.files.filter((one) => one.path !== files.current().path);
  const path = await dialogs.open("Compare with", (shut) => dialogs.choices(
    others.map((one) => ({ words: one.path, value: one.path, says: one.kind === "chart" ? "chart" : "" })), shut,
    { narrow: "Part of a name", empty: "There is no other pattern in this folder." }));
  if (!path) return;
  let found;
  try {
    found = await whileBusy("The two are being compared \u2026", ask("compare", { text: words.value(), path }));
  } catch (error) {
    files.told(error);
    return;
  }
  if (find("dialog").open) return; // something else was begun meanwhile
  await dialogs.open(`Compared with \u201c${path}\u201d`, (shut) => {
    if (found.cannot) return make("p", {}, sentence(found.cannot) + ".");
    const go = (line) => button(`Line ${line}`, () => { shut(); toLine(line); }, { class: "go" });
    const made = [make("p", {}, found.same ? "The knitting is the same, stitch for stitch."
      : `The knitting differs in ${many(found.rows.length, "place")}.`)];
    if (found.rows.length) {
      made.push(make("ol", { class: "compared" }, found.rows.slice(0, 200).map((one) => make("li", { class: "where" },
        one.line ? go(one.line) : null, make("span", {}, sentence(one.says))))));
    }
    if (found.lines.length) {
      made.push(make("h3", {}, `${many(found.lines.length, "place")} worded otherwise: here, and there`));
      made.push(make("ol", { class: "compared" }, found.lines.slice(0, 200).map((one) => make("li", {},
        make("div", { class: "where" }, go(one.line)),
        make("div", { class: "pair" },
          make("pre", { "aria-label": "Here" }, one.mine.join("\n") || "(nothing here)"),
          make("pre", { "aria-label": "There" }, one.its.join("\n") || "(nothing there)"))))));
    }
    return made;
  }, { wide: true });
}

function toLine(line) {
  const all = words.value().split("\n");
  const start = all.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
  words.select(start, start + (all[line - 1]?.length ?? 0));
}

async function print_() {
  const what = await dialogs.open("Print", (shut) => dialogs.choices([
    { words: "The chart", says: "with its key, true to size", value: "chart" },
    { words: "The words with their counts", says: "as a proof copy, findings after it", value: "words" },
  ], shut));
  if (!what) return;
  prepare(what, { proof, chart: chart.now(), size, file: files.current() });
  document.body.dataset.print = what;
  window.print();
}

function help() {
  const keys = [
    ["F8, Shift F8", "next finding, finding before"],
    ["Alt Enter", "make the repair of the finding at the cursor"],
    ["Ctrl Z", "take back, repairs as well as typing"],
    ["Ctrl S, Ctrl Shift S", "save, save under another name"],
    ["Ctrl O", "open"],
    ["F6, Shift F6", "from pane to pane"],
    ["Escape", "put the explanation away"],
    ["In the chart: arrows", "from stitch to stitch; up and down follow the loops"],
    ["In the chart: Page Up, Page Down", "step through the rows"],
    ["In the chart: Enter", "to the words of the stitch"],
    ["In the chart: + \u2212 0", "larger, smaller, fitted"],
  ];
  return dialogs.open("Help", () => [
    make("p", {}, "Type or paste a pattern as you would send it to a technical editor. After each row stands the number of stitches it leaves, in every size. What does not come out is marked under the very stitch; the explanation and the smallest repair come with it."),
    make("dl", { class: "keys" }, keys.flatMap(([key, does]) => [make("dt", {}, key), make("dd", {}, does)])),
    make("p", { class: "soft" }, "The desk runs on this machine only and asks nothing of any other. Unsaved words are kept aside until they are saved or thrown away."),
    make("p", { class: "soft" }, `chartc ${files.known()?.version ?? ""}`),
  ], { wide: true });
}

// ---------------------------------------------------------------- files dropped

const dropHere = find("drop-here");
let dragged = 0;
const isFile = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");
addEventListener("dragenter", (event) => { if (isFile(event)) { dragged++; dropHere.hidden = false; } });
addEventListener("dragleave", (event) => { if (isFile(event) && --dragged <= 0) { dragged = 0; dropHere.hidden = true; } });
addEventListener("dragover", (event) => { if (isFile(event)) event.preventDefault(); });
addEventListener("drop", async (event) => {
  if (!isFile(event)) return;
  event.preventDefault();
  dragged = 0;
  dropHere.hidden = true;
  const file = event.dataTransfer.files[0];
  if (file) await takeFile(file);
});

async function takeFile(file) {
  if (file.size > 2000000) {
    notice("refused", "This file is too large for the desk.", [], { kind: "wrong" });
    return;
  }
  let text;
  try {
    text = new TextDecoder("utf-8", { fatal: true }).decode(await file.arrayBuffer());
  } catch {
    notice("refused", `\u201c${file.name}\u201d is not plain text. Save the pattern as plain text, or copy and paste it.`, [], { kind: "wrong" });
    return;
  }
  text = text.replace(/\r\n?/g, "\n");
  if (/\.(csv|tsv|svg)$/i.test(file.name)) await files.takeChart(text, file.name);
  else files.putNew(text, file.name.replace(/\.[^.]*$/, ""));
}

// A chart pasted from a spreadsheet comes as columns with tabs between them.
find("text").addEventListener("paste", (event) => {
  const given = event.clipboardData?.getData("text/plain") ?? "";
  const rows = given.trim().split(/\r?\n/);
  const columns = rows.map((one) => one.split("\t").length);
  const isTable = rows.length > 1 && Math.min(...columns) > 2 && rows.every((one) => one.split("\t").every((cell) => cell.length < 16));
  if (!isTable) return;
  notice("pasted", "This looks like a chart from a spreadsheet.", [
    ["Put it into words", () => { document.execCommand("undo"); files.takeChart(given.replace(/\r\n?/g, "\n"), "pasted chart.tsv"); }, true],
    ["Leave it as it is", () => {}],
  ]);
});

// ---------------------------------------------------------------- beginning

applySettings();
try {
  if (await enter()) await files.begin();
  else files.lostKey();
} catch (error) {
  if (error instanceof Refusal && error.status === 401) files.lostKey();
  else files.told(error);
}
document.documentElement.dataset.ready = "yes";

// The chart: the drawing the desk sends, with a cursor, lights and lines laid over it.

import { find, make, say } from "./dom.js";

const SVG = "http://www.w3.org/2000/svg";
const board = find("board");
const drawing = find("drawing");
const note = find("chart-note");

let chart = null;
let picture = null;
let frame = null; // {x, y, width, height, cellWide, cellHigh} of the grid, in the drawing's mm
let over = null;
let cells = new Map(); // "row,order" of the fabric -> [row on the chart, cell]
let spots = []; // per row on the chart: column -> cell
let at = null; // [row, cell] under the cursor
let row = -1;
let zoom = 0; // 0: fit
let stale = false; // the chart is of an earlier text, whose words have moved since
const listeners = { light: [], go: [] };

export const on = (what, act) => listeners[what].push(act);
const tell = (what, ...given) => listeners[what].forEach((act) => act(...given));
export const now = () => chart;

const ELEMENTS = new Set(["svg", "g", "defs", "symbol", "use", "path", "rect", "circle", "ellipse",
  "line", "polyline", "polygon", "text", "tspan", "title", "desc"]);

const parse = (() => {
  // The drawing is made by chartc and every word in it escaped; it is looked through all the same.
  const policy = window.trustedTypes?.createPolicy("desk-chart", { createHTML: (given) => given });
  return (given) => {
    const parsed = new DOMParser().parseFromString(
      policy ? policy.createHTML(given) : given, "image/svg+xml");
    const root = parsed.documentElement;
    if (root.localName !== "svg") throw new Error("not a drawing");
    for (const one of [...root.querySelectorAll("*")]) {
      if (one.namespaceURI !== SVG || !ELEMENTS.has(one.localName)) one.remove();
    }
    for (const one of [root, ...root.querySelectorAll("*")]) {
      for (const { name, value } of [...one.attributes]) {
        const link = name === "href" || name.endsWith(":href");
        if (/^on/i.test(name) || name === "style" || (link && !value.startsWith("#"))) {
          one.removeAttribute(name);
        }
      }
    }
    return document.importNode(root, true);
  };
})();

/** Show a chart, or say why there is none; then the one before stays. */
export function setChart(next) {
  const same = chart && next.section === chart.section && next.size === chart.size;
  if (next.none !== undefined) {
    tellWhy(chart ? `${sentence(next.none)}. The chart shown is the last one that came out.` : sentence(next.none), chart);
    return;
  }
  if (next.broken && chart && same && !chart.broken) {
    tellWhy(`${next.broken}. The chart shown is the last one that came out.`, true);
    return;
  }
  chart = next;
  tellWhy(next.broken ? `Drawn as far as it goes: ${next.broken}.` : "", false);
  draw();
}

/** Nothing to show at all: another file was opened. */
export function clear() {
  chart = picture = frame = over = at = null;
  row = -1;
  drawing.replaceChildren();
  find("key-list").replaceChildren();
  find("reads").textContent = "";
  tellWhy("", false);
  readRow();
}

const sentence = (words) => words.charAt(0).toUpperCase() + words.slice(1);

function tellWhy(words, old) {
  note.hidden = !words;
  note.textContent = words;
  stale = Boolean(old);
  board.classList.toggle("old", stale);
  if (stale) {
    wordLights = [];
    lay();
  }
}

function draw() {
  const kept = at ? [at[0], chart.rows[at[0]]?.cells[at[1]] ? at[1] : 0] : null;
  picture = parse(chart.svg);
  // What the drawing says of itself is told by the board, which also moves through it.
  picture.setAttribute("aria-hidden", "true");
  picture.setAttribute("focusable", "false");
  picture.querySelectorAll("title").forEach((one) => one.remove());
  drawing.replaceChildren(picture);
  board.setAttribute("aria-label", chart.alt);
  over = document.createElementNS(SVG, "g");
  over.setAttribute("class", "over");
  picture.append(over);
  const grid = picture.querySelector("#chart-grid").getBBox();
  drawKey();
  crop();
  frame = { x: grid.x, y: grid.y, width: grid.width, height: grid.height,
    cellWide: grid.width / chart.width, cellHigh: grid.height / chart.rows.length };
  cells = new Map();
  spots = chart.rows.map((one, r) => {
    const line = [];
    one.cells.forEach((cell, c) => {
      cells.set(`${one.index},${cell[3]}`, [r, c]);
      for (let k = 0; k < cell[1]; k++) line[cell[0] + k] = c;
    });
    return line;
  });
  size();
  wordLights = [];
  row = row >= chart.rows.length ? -1 : row;
  at = kept && chart.rows[kept[0]]?.cells[kept[1]] ? kept : null;
  readRow();
  lay();
}

/** Heading and key are told beside the drawing, where they can be read at any zoom. */
function crop() {
  const around = [];
  for (const one of picture.children) {
    const name = one.id.replace("chart-", "");
    if (one.localName !== "g" || ["paper", "heading", "key"].includes(name)) continue;
    const box = one.getBBox();
    if (box.width || box.height) around.push(box);
  }
  for (const name of ["paper", "heading", "key"]) picture.querySelector(`#chart-${name}`)?.remove();
  const x = Math.min(...around.map((box) => box.x)) - 3;
  const y = Math.min(...around.map((box) => box.y)) - 3;
  const wide = Math.max(...around.map((box) => box.x + box.width)) + 3 - x;
  const high = Math.max(...around.map((box) => box.y + box.height)) + 3 - y;
  picture.setAttribute("viewBox", [x, y, wide, high].map((n) => n.toFixed(3)).join(" "));
}

function drawKey() {
  const signs = [...(picture.querySelector("#chart-key")?.querySelectorAll("rect") ?? [])].map((rect) => {
    const use = rect.previousElementSibling;
    const cell = document.createElementNS(SVG, "svg");
    const box = { wide: Number(rect.getAttribute("width")), high: Number(rect.getAttribute("height")) };
    cell.setAttribute("viewBox", `-.4 -.4 ${box.wide + 0.8} ${box.high + 0.8}`);
    cell.setAttribute("aria-hidden", "true");
    cell.style.width = `${(box.wide + 0.8) * 0.3}rem`;
    if (use?.localName === "use") {
      const sign = use.cloneNode(true);
      sign.setAttribute("transform", (sign.getAttribute("transform") ?? "").replace(/translate\([^)]*\)/, ""));
      sign.removeAttribute("x");
      sign.removeAttribute("y");
      cell.append(sign);
    }
    const edge = rect.cloneNode();
    edge.setAttribute("x", "0");
    edge.setAttribute("y", "0");
    cell.append(edge);
    return cell;
  });
  find("reads").textContent = chart.reads + (chart.cut ? ` Shown on ${chart.castOn} stitches: the edges and two repeats, or as few as work.` : "");
  find("key-list").replaceChildren(...chart.key.map((one, i) => make("li", {}, signs[i] ?? make("span"),
    make("div", {}, one.says.map((says) => make("p", {},
      says.side ? make("span", { class: "soft" }, `${says.side}: `) : null,
      make("b", {}, says.name), says.title && says.title !== says.name ? ` ${says.title}` : "",
      says.how && says.how.split(" ").length > 3 ? make("span", { class: "soft" }, ` \u2013 ${says.how}`) : null)),
      one.behind ? make("p", { class: "soft" }, "Worked on the wrong side, drawn as seen from the right side.") : null))));
}

// ---------------------------------------------------------------- size

function size() {
  if (!picture) return;
  const [, , wide, high] = picture.getAttribute("viewBox").split(" ").map(Number);
  const mm = 96 / 25.4;
  const room = board.clientWidth - 18;
  const fit = Math.min(room / (wide * mm), (board.clientHeight - 12) / (high * mm), 1.7);
  // Fitting never makes the stitches too small to be read; then the board scrolls.
  const scale = zoom || Math.max(fit, 0.82);
  picture.setAttribute("width", `${(wide * mm * scale).toFixed(1)}`);
  picture.setAttribute("height", `${(high * mm * scale).toFixed(1)}`);
  return scale;
}

export function setZoom(by) {
  if (!picture) return;
  const [, , wide] = picture.getAttribute("viewBox").split(" ").map(Number);
  const scale = Number(picture.getAttribute("width")) / (wide * 96 / 25.4);
  zoom = by ? Math.min(6, Math.max(0.3, scale * by)) : 0;
  size();
  say(by ? `Chart at ${Math.round(zoom * 100)} per cent` : "Chart fitted to its pane");
}

new ResizeObserver(() => { if (!zoom) size(); }).observe(board);

// ---------------------------------------------------------------- places

const left = (column, wide) => (chart.mirrored
  ? frame.x + column * frame.cellWide
  : frame.x + frame.width - (column + wide) * frame.cellWide);
const top = (r) => frame.y + frame.height - (r + 1) * frame.cellHigh;

function cellFrom(event) {
  if (!picture || !frame) return null;
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(picture.getScreenCTM().inverse());
  const across = (point.x - frame.x) / frame.cellWide;
  const column = Math.floor(chart.mirrored ? across : chart.width - across);
  const r = Math.floor((frame.y + frame.height - point.y) / frame.cellHigh);
  const c = spots[r]?.[column];
  return c === undefined ? (spots[r] ? [r, -1] : null) : [r, c];
}

// ---------------------------------------------------------------- lights

function shape(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function boxOf(r, c, kind) {
  const cell = chart.rows[r].cells[c];
  const wide = Math.max(cell[1], 0.3);
  return shape("rect", {
    class: kind, x: left(cell[0], wide) + (cell[1] ? 0 : 0.15 * frame.cellWide), y: top(r),
    width: wide * frame.cellWide, height: frame.cellHigh,
  });
}

const middle = (r, c) => {
  const cell = chart.rows[r].cells[c];
  return [left(cell[0], cell[1]) + cell[1] * frame.cellWide / 2, top(r) + frame.cellHigh / 2];
};

let wordLights = [];

function lay() {
  if (!over) return;
  over.replaceChildren();
  if (row >= 0 && chart.rows[row]) {
    over.append(shape("rect", { class: "row-light", x: frame.x, y: top(row), width: frame.width, height: frame.cellHigh }));
  }
  for (const [r, c] of wordLights.slice(0, 2000)) over.append(boxOf(r, c, "word-light"));
  if (!at) return;
  const [r, c] = at;
  const cell = chart.rows[r].cells[c];
  const here = middle(r, c);
  for (const [list, kind] of [[cell[6], "from"], [cell[7], "to"]]) {
    for (const [fr, order] of list) {
      const found = cells.get(`${fr},${order}`);
      if (!found) continue;
      over.append(boxOf(found[0], found[1], kind));
      const there = middle(...found);
      over.append(shape("path", { class: `thread ${kind}`, d: `M${here[0]} ${here[1]}L${there[0]} ${there[1]}` }));
    }
  }
  over.append(boxOf(r, c, "here"));
}

function stitch(cell) {
  return chart.stitches[cell[2]];
}

function named(pairs) {
  const told = new Map();
  for (const [fr, order] of pairs) {
    const place = fr < 0 ? "the cast-on" : chart.names[fr] ?? "";
    const found = cells.get(`${fr},${order}`);
    const name = fr < 0 ? `stitch ${order + 1}` : found ? stitch(chart.rows[found[0]].cells[found[1]]).name : "";
    told.set(place, [...(told.get(place) ?? []), name]);
  }
  return [...told].map(([place, names]) => `${names.filter(Boolean).join(", ")}${names.some(Boolean) ? " of " : ""}${place}`).join("; ");
}

function inWords(r, c) {
  const one = chart.rows[r];
  const cell = one.cells[c];
  const made = stitch(cell);
  const parts = [`${made.name === made.title ? made.name : `${made.name}, ${made.title}`}`];
  if (cell[6].length) parts.push(`drawn through ${named(cell[6])}`);
  else if (made.makes) parts.push("drawn through no stitch: it adds one");
  if (cell[7].length) parts.push(`then worked as ${named(cell[7])}`);
  else if (made.makes) parts.push("still on the needle at the end");
  return parts.join("; ") + ".";
}

function readRow() {
  const name = find("row-name");
  const words = find("row-words");
  const none = find("stitch-words");
  const one = chart?.rows[row];
  name.textContent = one ? one.name : chart ? "All rows" : "No row";
  words.textContent = one ? one.words : "";
  words.tabIndex = words.scrollHeight > words.clientHeight + 1 ? 0 : -1;
  none.textContent = at && chart ? inWords(...at) : chart ? "Point at a stitch, or put the cursor into a row." : "";
  find("row-back").disabled = find("row-on").disabled = !chart;
}

function reach(place, { speak = false, fromWords = false } = {}) {
  at = place && place[1] >= 0 ? place : null;
  if (at) {
    row = at[0];
    wordLights = [];
  }
  lay();
  readRow();
  const cell = at && chart.rows[at[0]].cells[at[1]];
  if (!fromWords) tell("light", cell && !stale && cell[5] > cell[4] ? [[cell[4], cell[5]]] : []);
  if (cell && speak) {
    const one = chart.rows[at[0]];
    const order = [...one.cells].sort((a, b) => a[3] - b[3]).indexOf(cell) + 1;
    say(`${one.name}, stitch ${order}: ${inWords(...at)}`);
    const box = picture.querySelector(".here")?.getBoundingClientRect();
    const seen = board.getBoundingClientRect();
    if (box && (box.left < seen.left || box.right > seen.right || box.top < seen.top || box.bottom > seen.bottom)) {
      board.scrollBy({ left: box.left - seen.left - seen.width / 2, top: box.top - seen.top - seen.height / 2 });
    }
  }
}

/** Light the stitches made by the words at a place (-1: none); true when there are any. */
export function lightWords(place, { take = false } = {}) {
  if (!chart || stale) return false;
  if (place < 0) {
    wordLights = [];
    if (take) at = null;
    lay();
    return false;
  }
  let best = Infinity;
  let found = [];
  let inRow = -1;
  chart.rows.forEach((one, r) => {
    if (one.start <= place && place <= one.end && inRow < 0) inRow = r;
    one.cells.forEach((cell, c) => {
      const long = cell[5] - cell[4];
      if (cell[4] <= place && place <= cell[5] && long > 0) {
        if (long < best) { best = long; found = []; }
        if (long === best) found.push([r, c]);
      }
    });
  });
  wordLights = found;
  if (take) {
    at = null;
    row = found.length ? found[0][0] : inRow;
    readRow();
  }
  lay();
  return found.length > 0;
}

export function stepRow(by) {
  if (!chart) return;
  const last = chart.rows.length - 1;
  row = row < 0 ? (by > 0 ? 0 : last) : (row + by + last + 1) % (last + 1);
  at = null;
  wordLights = [];
  lay();
  readRow();
  const one = chart.rows[row];
  tell("light", one.end > one.start && !stale ? [[one.start, one.end]] : []);
  say(`${one.name}: ${one.words}`);
  const y = picture.getScreenCTM().f + picture.getScreenCTM().d * top(row);
  const seen = board.getBoundingClientRect();
  if (y < seen.top || y > seen.bottom - 20) board.scrollBy({ top: y - seen.top - seen.height / 2 });
}

// ---------------------------------------------------------------- pointer and keys

board.addEventListener("pointermove", (event) => {
  if (event.pointerType !== "mouse") return;
  const found = cellFrom(event);
  if (found && at && found[0] === at[0] && found[1] === at[1]) return;
  reach(found);
});
board.addEventListener("pointerleave", (event) => {
  if (event.pointerType === "mouse") reach(null);
});
board.addEventListener("click", (event) => {
  const found = cellFrom(event);
  reach(found, { speak: true });
  if (event.detail > 1) goToWords();
});

function goToWords() {
  const cell = at && !stale && chart.rows[at[0]].cells[at[1]];
  if (cell && cell[5] > cell[4]) tell("go", cell[4], cell[5]);
}

board.addEventListener("keydown", (event) => {
  if (!chart || event.altKey || event.ctrlKey || event.metaKey) return;
  const sideways = { ArrowLeft: 1, ArrowRight: -1 }[event.key];
  const upright = { ArrowUp: 1, ArrowDown: -1 }[event.key];
  if (sideways || upright) {
    event.preventDefault();
    if (!at) {
      reach([row >= 0 ? row : 0, firstOf(row >= 0 ? row : 0)], { speak: true });
      return;
    }
    move(sideways ? (chart.mirrored ? -sideways : sideways) : 0, upright ?? 0);
  } else if (event.key === "Home" || event.key === "End") {
    event.preventDefault();
    const r = at ? at[0] : Math.max(row, 0);
    const order = [...chart.rows[r].cells.keys()].sort((a, b) => chart.rows[r].cells[a][3] - chart.rows[r].cells[b][3]);
    reach([r, event.key === "Home" ? order[0] : order.at(-1)], { speak: true });
  } else if (event.key === "PageUp" || event.key === "PageDown") {
    event.preventDefault();
    stepRow(event.key === "PageUp" ? 1 : -1);
  } else if (event.key === "Enter") {
    event.preventDefault();
    goToWords();
  } else if (event.key === "+" || event.key === "-" || event.key === "0") {
    event.preventDefault();
    setZoom({ "+": 1.25, "-": 0.8, 0: 0 }[event.key]);
  } else if (event.key === "Escape") {
    reach(null);
  }
});

const firstOf = (r) => {
  const order = [...chart.rows[r].cells.keys()].sort((a, b) => chart.rows[r].cells[a][3] - chart.rows[r].cells[b][3]);
  return order[0] ?? -1;
};

/** To the neighbour along the row, or up and down to the stitch over or under this one. */
function move(along, up) {
  const [r, c] = at;
  const cell = chart.rows[r].cells[c];
  if (along) {
    const order = [...chart.rows[r].cells.keys()].sort((a, b) =>
      chart.rows[r].cells[a][0] - chart.rows[r].cells[b][0] || a - b);
    const next = order[order.indexOf(c) + along];
    if (next !== undefined) reach([r, next], { speak: true });
    return;
  }
  const linked = (up > 0 ? cell[7] : cell[6]).map(([fr, order]) => cells.get(`${fr},${order}`)).find(Boolean);
  const below = spots[r + up]?.[cell[0]];
  const next = linked ?? (below === undefined ? null : [r + up, below]);
  if (next) reach(next, { speak: true });
}

find("row-back").addEventListener("click", () => stepRow(-1));
find("row-on").addEventListener("click", () => stepRow(1));
find("zoom-in").addEventListener("click", () => setZoom(1.25));
find("zoom-out").addEventListener("click", () => setZoom(0.8));
find("zoom-fit").addEventListener("click", () => setZoom(0));
readRow();

// What goes to the printer: the chart true to size, or the words with their counts.

import { find, make } from "./dom.js";
import * as words from "./words.js";

export function prepare(what, { proof, size, file }) {
  find("printed")?.remove();
  const made = make("div", { id: "printed", "aria-hidden": "true" });
  const name = proof?.title || file.path || "Pattern";
  if (what === "chart") {
    const drawing = find("drawing").firstElementChild?.cloneNode(true);
    drawing?.querySelector(".over")?.remove();
    if (drawing) {
      const [, , wide, high] = drawing.getAttribute("viewBox").split(" ");
      drawing.setAttribute("width", `${wide}mm`);
      drawing.setAttribute("height", `${high}mm`);
    }
    const key = find("key-list").cloneNode(true);
    key.removeAttribute("id");
    key.className = "key-list";
    made.append(make("h1", {}, name),
      make("p", { class: "reads" }, find("reads").textContent),
      drawing ?? make("p", {}, "There is no chart."), key);
  } else {
    made.append(make("h1", {}, name), table(proof, size));
    if (proof?.findings.length) {
      made.append(make("h2", {}, "Findings"), make("ol", {}, proof.findings.map((one) =>
        make("li", {}, `Line ${one.line}, ${one.severity}: ${one.message}`, one.hint ? `; ${one.hint}` : ""))));
    }
  }
  document.body.append(made);
}

function table(proof, size) {
  const sizes = proof?.sizes ?? [""];
  const shown = sizes.length > 1 && size < 0 ? sizes.map((_, i) => i) : [Math.max(0, size)];
  const counted = new Map((proof?.lines ?? []).map((one) => [one.line, one]));
  const flawed = new Set((proof?.findings ?? []).map((one) => one.line));
  return make("table", {},
    make("thead", {}, make("tr", {}, make("th", {}, ""), make("th", {}, ""),
      shown.map((i) => make("th", { class: "n" }, sizes.length > 1 ? sizes[i] : "sts")))),
    make("tbody", {}, words.value().split("\n").map((line, n) => {
      const one = counted.get(n + 1);
      const after = (i) => {
        if (!one) return "";
        if (one.begun) return String(one.begun[i] ?? one.begun.at(-1));
        const times = one.rows.at(-1)?.counts[0]?.find((time) => time[0] === i);
        return times ? words.number(times[4]) : "\u2013";
      };
      return make("tr", { class: flawed.has(n + 1) ? "flawed" : null },
        make("td", { class: "nr" }, String(n + 1)), make("td", {}, line || "\u00a0"),
        shown.map((i) => make("td", { class: "n" }, after(i))));
    })));
}

addEventListener("afterprint", () => {
  find("printed")?.remove();
  delete document.body.dataset.print;
});

// What is known of the row the cursor is in: its counts in every size, its repeats, its part.

import { find, make, many } from "./dom.js";
import { number, signed } from "./words.js";

const body = find("row-body");

export function showRow(proof, line, place) {
  const part = proof?.sections.find((one) => one.start <= place && place <= one.end);
  find("row-of").textContent = part ? part.name : "";
  const found = proof?.lines.find((one) => one.line === line) ??
    proof?.lines.findLast((one) => one.line < line && one.line >= (part?.line ?? 1));
  const made = [];
  if (found?.begun && !found.rows.length) made.push(begun(proof, found));
  for (const row of found?.rows ?? []) made.push(table(proof, row));
  if (part) {
    for (const says of part.says) made.push(make("p", { class: "says" }, sentence(says) + "."));
  }
  if (!made.length) {
    made.push(make("p", { class: "soft" }, "Put the cursor into a row to see what it does in every size."));
  }
  body.replaceChildren(...made);
}

const sentence = (words) => words.charAt(0).toUpperCase() + words.slice(1);

function begun(proof, found) {
  const names = proof.sizes.length > 1 ? proof.sizes : ["stitches"];
  return make("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Counts of the cast-on" },
    make("table", {},
    make("caption", {}, "Cast on"),
    make("thead", {}, make("tr", {}, names.map((name) => make("th", { scope: "col" }, name)))),
    make("tbody", {}, make("tr", {}, names.map((_, i) => make("td", {}, String(found.begun[i] ?? found.begun.at(-1))))))));
}

function table(proof, row) {
  const many_ = proof.sizes.length > 1;
  const rows = [];
  row.counts.forEach((time, n) => {
    if (row.leftOut && n === row.counts.length - 1) {
      rows.push(make("tr", {}, make("td", { colspan: 6, class: "soft" },
        `\u2026 ${many(row.leftOut, "time", "times")} more through \u2026`)));
    }
    const which = row.counts.length > 1 ? `time ${row.leftOut && n === row.counts.length - 1 ? row.times : n + 1}` : "";
    time.forEach(([size, before, used, made_, after]) => {
      const change = before === null || after === null ? "" : signed(after - before);
      rows.push(make("tr", {},
        make("th", { scope: "row" }, [many_ ? proof.sizes[size] : "", which].filter(Boolean).join(", ") || "one size"),
        [before, used, made_, after].map((n_) => make("td", {}, number(n_))),
        make("td", { class: "change" }, change)));
    });
  });
  const side = row.side && !row.label.includes(row.side) ? ` (${row.side})` : "";
  return make("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": `Counts of ${row.label}` },
    make("table", {},
      make("caption", {}, row.label + side + (row.times > 1 ? `, worked ${many(row.times, "time", "times")}` : "")),
      make("thead", {}, make("tr", {},
        ["size", "before", "used", "made", "after", "change"].map((name) => make("th", { scope: "col" }, name)))),
      make("tbody", {}, rows)),
    (row.repeats ?? []).map((one) => make("p", { class: "says" }, repeat(one))));
}

function repeat(one) {
  const times = one.times.map(number);
  const often = new Set(times).size === 1 ? times[0] : `${times[0]} (${times.slice(1).join(", ")})`;
  const does = [];
  if (one.plus) does.push(`adds ${one.plus}`);
  if (one.minus) does.push(`takes ${one.minus}`);
  const balance = one.makes - one.uses;
  return `The repeat takes ${many(one.uses, "stitch", "stitches")} and is worked ${often} ${often === "1" ? "time" : "times"}; ` +
    (does.length ? `each time through it ${does.join(" and ")}${balance ? `, ${signed(balance)} in all` : ": in balance"}.` : "it leaves the count as it is.");
}

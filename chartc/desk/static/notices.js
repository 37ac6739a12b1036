// Notices under the top bar: something happened to the file, and what can be done about it.

import { button, find, make, say } from "./dom.js";

const place = find("notices");

/** Show a notice in place of the one of the same name; acts: [[words, act, strong?], ...]. */
export function notice(name, words, acts = [], { kind = "plain", close = true } = {}) {
  dismiss(name);
  const made = make("div", { class: `notice ${kind}`, "data-notice": name, role: "group", "aria-label": "Notice" },
    make("p", {}, words),
    make("div", { class: "notice-acts" },
      acts.map(([label, act, strong]) => button(label, () => { dismiss(name); act(); }, { class: strong ? "strong" : null })),
      close ? button("\u00d7", () => dismiss(name), { class: "close", "aria-label": "Put this notice away" }) : null));
  place.append(made);
  say(words);
}

export function dismiss(name) {
  for (const one of [...place.children]) if (one.dataset.notice === name) one.remove();
}

/** A notice that stays as long as something is being worked out. */
export async function whileBusy(words, work) {
  const timer = setTimeout(() => notice("busy", words, [], { close: false }), 250);
  try {
    return await work;
  } finally {
    clearTimeout(timer);
    dismiss("busy");
  }
}

export const shown = (name) => [...place.children].some((one) => one.dataset.notice === name);

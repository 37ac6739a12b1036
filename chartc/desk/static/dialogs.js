// One dialog for everything that asks or lists.

import { find, make } from "./dom.js";

const dialog = find("dialog");
let done = null;

/** Open the dialog; `fill(close)` gives its contents. Resolves with what is handed to close. */
export function open(title, fill, { wide = false } = {}) {
  if (dialog.open) dialog.close();
  find("dialog-head").textContent = title;
  dialog.classList.toggle("wide", wide);
  return new Promise((resolve) => {
    done = resolve;
    find("dialog-body").replaceChildren(...[fill(close)].flat().filter(Boolean));
    dialog.showModal();
    dialog.querySelector("[autofocus], input, button:not(.close)")?.focus();
  });
}

export function close(value = null) {
  const tell = done;
  done = null;
  if (dialog.open) dialog.close();
  tell?.(value);
}

dialog.addEventListener("close", () => {
  if (!dialog.open) close(null); // another may have been opened meanwhile
});
dialog.addEventListener("click", (event) => {
  if (event.target === dialog) close(null);
});
find("dialog-body").closest("form").addEventListener("submit", (event) => {
  event.preventDefault();
  if (event.submitter?.value === "close") close(null);
});

/** A list to choose from, with a box to narrow it down: [{words, says, value, disabled}]. */
export function choices(items, choose, { narrow = "", empty = "There is nothing to choose from." } = {}) {
  const list = make("ul", { class: "choices" });
  const draw = (wanted) => {
    const met = items.filter((one) => `${one.words} ${one.says ?? ""}`.toLowerCase().includes(wanted));
    list.replaceChildren(...met.map((one) => make("li", {},
      make("button", { type: "button", disabled: Boolean(one.disabled), onclick: () => choose(one.value) },
        make("span", { class: "choice-words" }, one.words),
        one.says ? make("span", { class: "choice-says" }, one.says) : null))));
    if (!met.length) list.append(make("li", { class: "soft" }, items.length ? "Nothing of that name." : empty));
  };
  draw("");
  if (!narrow || items.length < 6) return [list];
  const box = make("input", { type: "search", "aria-label": narrow, placeholder: narrow,
    oninput: (event) => draw(event.target.value.trim().toLowerCase()) });
  return [box, list];
}

/** A question with one answer to each button: resolves with the value of the button. */
export function ask(title, words, answers) {
  return open(title, (shut) => [
    ...[words].flat().map((one) => (one instanceof Node ? one : make("p", {}, one))),
    make("div", { class: "answers" }, answers.map(([label, value, strong]) =>
      make("button", { type: "button", class: strong ? "strong" : null, onclick: () => shut(value) }, label))),
  ]);
}

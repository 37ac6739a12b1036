// Small things for making and finding elements. Text from a pattern only ever goes into text
// nodes and attributes, never through a parser.

export const find = (id) => document.getElementById(id);

/** An element: make("p", {class: "soft"}, "words", child, ...). */
export function make(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.flat().filter((one) => one !== null && one !== undefined));
  return made;
}

export function button(words, act, attributes = {}) {
  return make("button", { type: "button", onclick: act, ...attributes }, words);
}

export const many = (n, one, more = one + "s") => `${n} ${n === 1 ? one : more}`;

/** Call once the calls have stopped for a while; `.now()` calls at once when one is waiting. */
export function calm(act, wait) {
  let timer = 0;
  const late = (...given) => {
    clearTimeout(timer);
    timer = setTimeout(() => { timer = 0; act(...given); }, wait);
  };
  late.now = (...given) => {
    if (!timer) return;
    clearTimeout(timer);
    timer = 0;
    act(...given);
  };
  late.stop = () => { clearTimeout(timer); timer = 0; };
  return late;
}

/** Tell a screen reader, politely. */
export const say = (() => {
  let last = "";
  const tell = calm((words) => {
    // The same words twice are told twice only when they differ to the reader.
    find("say").textContent = words === last ? words + "\u00a0" : words;
    last = find("say").textContent;
  }, 120);
  return tell;
})();

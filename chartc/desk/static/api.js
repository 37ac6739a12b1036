// Asking the desk. Every request is a POST of JSON with the key of this run.

const KEY = "desk-key";
const PAGE = "desk-page";

export class Refusal extends Error {
  constructor(status, says, more = {}) {
    super(says);
    this.status = status;
    this.more = more;
  }
}

/** The desk does not answer: it was closed, or the machine slept. */
export class Away extends Error {}

/** A name for this tab that outlives a reload but not the tab. */
export const page = (() => {
  let found = sessionStorage.getItem(PAGE);
  // A tab that was duplicated brings its name along; two pages must not share one.
  const kind = performance.getEntriesByType("navigation")[0]?.type;
  if (!found || (kind !== "reload" && kind !== "back_forward")) {
    found = "p-" + random();
    sessionStorage.setItem(PAGE, found);
  }
  return found;
})();

export function random() {
  return Array.from(crypto.getRandomValues(new Uint8Array(8)), (n) =>
    n.toString(16).padStart(2, "0")).join("");
}

/** The file the address asks for: "#key=...&open=name". */
export let wanted = "";

/** Take the key out of the address (it stands after "#"), or the ticket for it. */
export async function enter() {
  const given = new URLSearchParams(location.hash.slice(1));
  const ticket = given.get("ticket");
  wanted = given.get("open") ?? "";
  if (given.has("key")) sessionStorage.setItem(KEY, given.get("key"));
  if (given.has("key") || ticket) history.replaceState(null, "", location.pathname);
  if (ticket) {
    const { key } = await ask("enter", { ticket });
    sessionStorage.setItem(KEY, key);
  }
  return sessionStorage.getItem(KEY) !== null;
}

export async function ask(name, given = {}, { signal, raw = false, keepalive = false } = {}) {
  let answer;
  try {
    answer = await fetch("api/" + name, {
      method: "POST",
      headers: {
        "content-type": "application/json",
        "x-desk-key": sessionStorage.getItem(KEY) ?? "",
      },
      body: JSON.stringify({ page, ...given }),
      signal,
      keepalive,
    });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Away();
  }
  if (answer.ok && raw) return answer;
  const data = await answer.json().catch(() => ({}));
  if (!answer.ok) {
    const { says = "this did not work", ...more } = data;
    throw new Refusal(answer.status, says, more);
  }
  return data;
}

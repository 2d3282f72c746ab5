// Asking the server; a refusal is one sentence and the field it belongs to.
export class Refused extends Error {
  constructor(said) {
    super(said.error || "The page got no answer.");
    this.field = said.field || "";
  }
}

async function read(response) {
  let said;
  try {
    said = await response.json();
  } catch {
    throw new Refused({ error: "The page got an answer that it can't read." });
  }
  if (!response.ok) throw new Refused(said);
  return said;
}

async function ask(address, options) {
  let response;
  try {
    response = await fetch(address, { headers: { Accept: "application/json" }, ...options });
  } catch (problem) {
    if (problem.name === "AbortError") throw problem;
    throw new Refused({ error: "greytare doesn't answer: is it still running?" });
  }
  return read(response);
}

export const get = (path, values, signal) => ask(`${path}?${new URLSearchParams(values)}`, { signal });

export const post = (path, body) =>
  ask(path, {
    method: "POST",
    headers: { Accept: "application/json", "Content-Type": "application/json" },
    body: JSON.stringify(body),
  });

export function later(work, wait) {
  let timer = 0;
  return (...values) => {
    clearTimeout(timer);
    timer = setTimeout(() => work(...values), wait);
  };
}

// Text is only touched where it changes, so that nothing is read out twice.
export function say(element, text) {
  if (element && element.textContent !== text) element.textContent = text;
}

// A state line says what was done; where it wasn't, it doesn't look as if it had been.
export function state(element, text, failed = false) {
  say(element, text);
  element.classList.toggle("failed", failed);
}

export function trouble(element, text) {
  say(element, text);
  if (element) element.hidden = !text;
}

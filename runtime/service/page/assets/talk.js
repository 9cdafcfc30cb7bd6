// What goes between this page and the lamp: /v1 and nothing else.
import { setPresent } from "/words.js";

class Problem extends Error {
  constructor(status, problem) {
    super(problem.detail || problem.title || "the lamp does not answer");
    this.status = status;
    this.code = problem.code || "";
    this.problem = problem;
  }
}

async function answer(response) {
  setPresent(response.headers.get("Date"));
  const type = response.headers.get("Content-Type") || "";
  const body = type.includes("json") ? await response.json() : {};
  if (!response.ok) throw new Problem(response.status, body);
  return body;
}

export const LATER = [0, 429, 503]; // statuses of what may be another time

// Who hears that the lamp does not know this phone any more.
let stranger = () => {};
export function onStranger(call) { stranger = call; }

// The lamp gives a request and its answer a minute; a phone that has left the network gets none.
async function ask(path, options) {
  try {
    return await answer(await fetch("/v1" + path, { credentials: "same-origin", signal: AbortSignal.timeout(60000), ...options }));
  } catch (error) {
    if (!(error instanceof Problem)) throw new Problem(0, { detail: "the lamp does not answer" });
    if (error.status === 401) stranger();
    throw error;
  }
}

export const get = (path, query) => ask(path + (query ? "?" + new URLSearchParams(query) : ""));
const json = (method, body) => ({ method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body || {}) });
export const send = (method, path, body) => ask(path, json(method, body));
export const remove = (path) => ask(path, { method: "DELETE" });

// So that an act whose answer was lost can be sent again and is done once.
function key() {
  return Array.from(crypto.getRandomValues(new Uint8Array(8)), (n) => n.toString(16).padStart(2, "0")).join("");
}

const TRIES = 3;
export async function act(line) {
  const body = { act: line, key: key() };
  for (let tried = 1; ; tried++) {
    try {
      return await ask("/acts", { ...json("POST", body), signal: AbortSignal.timeout(8000) });
    } catch (error) {
      // it may have been done, or be just being done
      if (tried === TRIES || (error.status !== 0 && error.code !== "being-done")) throw error;
      await new Promise((done) => setTimeout(done, 300));
    }
  }
}

export function bytes(base64) {
  return Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
}

// State and light as they change. `lost` is told whether the lamp is there. Where nothing else is to be
// told the lamp gives a sign of life every 15 s.
export class Events {
  constructor(onState, onLight, lost) {
    this.on = { onState, onLight, lost };
    this.heard = 0;
  }
  open() {
    this.close();
    this.heard = Date.now(); // from here on it may be silent for a while
    const source = (this.source = new EventSource("/v1/events?rate=15&light=*"));
    const hear = (name, take) => source.addEventListener(name, (event) => {
      this.heard = Date.now();
      take(JSON.parse(event.data));
    });
    hear("state", (state) => { this.on.lost(false); this.on.onState(state); });
    hear("light", this.on.onLight);
    hear("alive", () => {});
    source.onerror = () => {
      this.on.lost(true);
      if (source.readyState === EventSource.CLOSED) this.later = setTimeout(() => this.open(), 2000);
    };
  }
  silent() { return Date.now() - this.heard; }
  close() {
    clearTimeout(this.later);
    if (this.source) this.source.close();
    this.source = null;
  }
}

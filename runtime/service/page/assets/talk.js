// What goes between this page and the lamp: /v1 and nothing else.

export class Problem extends Error {
  constructor(status, problem) {
    super(problem.detail || problem.title || "the lamp does not answer");
    this.status = status;
    this.code = problem.code || "";
    this.problem = problem;
  }
}

async function answer(response) {
  const type = response.headers.get("Content-Type") || "";
  const body = type.includes("json") ? await response.json() : {};
  if (!response.ok) throw new Problem(response.status, body);
  return body;
}

async function ask(path, options) {
  try {
    return await answer(await fetch("/v1" + path, { credentials: "same-origin", ...options }));
  } catch (error) {
    if (error instanceof Problem) throw error;
    throw new Problem(0, { detail: "the lamp does not answer" });
  }
}

export const get = (path, query) => ask(path + (query ? "?" + new URLSearchParams(query) : ""));
export const send = (method, path, body) =>
  ask(path, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body || {}) });
export const remove = (path) => ask(path, { method: "DELETE" });

// So that an act whose answer was lost can be sent again and is done once.
function key() {
  return Array.from(crypto.getRandomValues(new Uint8Array(8)), (n) => n.toString(16).padStart(2, "0")).join("");
}

export async function act(line) {
  const body = { act: line, key: key() };
  try {
    return await send("POST", "/acts", body);
  } catch (error) {
    if (error.status !== 0) throw error;
    return send("POST", "/acts", body);
  }
}

export function bytes(base64) {
  return Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
}

// State and light as they change. `lost` is told whether the lamp is there.
export class Events {
  constructor(onState, onLight, lost) {
    this.on = { onState, onLight, lost };
    this.heard = 0;
  }
  open() {
    this.close();
    const source = (this.source = new EventSource("/v1/events?rate=15&light=*"));
    const hear = (name, take) => source.addEventListener(name, (event) => {
      this.heard = Date.now();
      take(JSON.parse(event.data));
    });
    hear("state", (state) => { this.on.lost(false); this.on.onState(state); });
    hear("light", this.on.onLight);
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

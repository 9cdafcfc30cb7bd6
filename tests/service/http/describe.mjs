// describe.mjs GLOAM http.yaml ROUTES: the text is OpenAPI 3.1, names the routes that the server has,
// and what a real server answers fits it.
import { readFileSync } from "node:fs";
import { Validator } from "@seriousme/openapi-schema-validator";
import Ajv from "ajv/dist/2020.js";
import formats from "ajv-formats";
import { parse } from "yaml";
import { House, expect, close } from "./house.mjs";

const [, , gloam, path, routesPath] = process.argv;
const text = readFileSync(path, "utf8"), api = parse(text);
const judged = await new Validator().validate(structuredClone(api));
expect(judged.valid, `spec/http.yaml to be OpenAPI 3.1: ${String(JSON.stringify(judged.errors)).slice(0, 600)}`);
expect(api.openapi.startsWith("3.1"), "version 3.1");

const served = readFileSync(routesPath, "utf8").trim().split("\n").sort();
const told = Object.entries(api.paths).flatMap(([name, item]) =>
  Object.keys(item).filter((method) => ["get", "put", "post", "delete"].includes(method)).map((method) => `${method.toUpperCase()} ${name.replace(/\{[^}]*\}/g, "*")}`)).sort();
expect(JSON.stringify(served) === JSON.stringify(told), `the same paths in both: served ${served.filter((one) => !told.includes(one))}, told ${told.filter((one) => !served.includes(one))}`);

const ajv = new Ajv({ strict: false, allErrors: true });
formats(ajv);
ajv.addSchema({ ...api, $id: "http://gloam/api" });
const seen = new Set();

// What came back, against the status that is wanted and the schema of its status and type.
async function fits(house, wanted, method, name, query = "", body, headers = {}) {
  const template = Object.keys(api.paths).find((one) => new RegExp("^" + one.replace(/\{[^}]*\}/g, "[^/]+") + "$").test(name));
  const operation = api.paths[template][method.toLowerCase()];
  const response = await fetch(`${house.url}v1${name}${query}`, { method, headers: { ...(body ? { "Content-Type": "application/json" } : {}), ...headers }, ...(body ? { body: JSON.stringify(body) } : {}) });
  expect(response.status === wanted, `${wanted} for ${method} ${name}${query}, not ${response.status}`);
  const type = response.headers.get("content-type").split(";")[0];
  seen.add(`${method} ${template} ${response.status}`);
  const key = operation.responses[response.status] ? response.status : "default";
  const where = operation.responses[key].$ref ? "#/components/responses/Problem" : `#/paths/${template.replaceAll("~", "~0").replaceAll("/", "~1")}/${method.toLowerCase()}/responses/${key}`;
  const described = operation.responses[key].$ref ? api.components.responses.Problem : operation.responses[key];
  const content = described.content || {};
  if (!content[type]) {
    expect(false, `${type} to be described for ${method} ${name}, ${response.status}`);
    return null;
  }
  if (!type.includes("json")) return response.text();
  const answer = await response.json();
  const reference = `http://gloam/api${where}/content/${type.replaceAll("/", "~1").replaceAll("+", "%2B")}/schema`;
  const check = ajv.getSchema(reference) || ajv.compile({ $ref: reference });
  expect(check(answer), `the answer of ${method} ${name} ${response.status} to fit: ${ajv.errorsText(check.errors)}: ${JSON.stringify(answer).slice(0, 300)}`);
  return answer;
}

const house = new House(gloam);
await house.start();
await new Promise((done) => setTimeout(done, 500));
await fits(house, 200, "GET", "/state");
await fits(house, 200, "GET", "/state", "", null, { Accept: "text/plain" });
await fits(house, 200, "POST", "/acts", "", { act: "play hues for 5min" });
await fits(house, 422, "POST", "/acts", "", { act: "play nowhere" });
await fits(house, 400, "POST", "/acts", "", { nothing: 1 });
await fits(house, 200, "GET", "/home");
const file = await fits(house, 200, "GET", "/home/text");
await fits(house, 200, "PUT", "/home/text", "", { text: file.text + "\n// more\n", base: file.hash });
await fits(house, 409, "PUT", "/home/text", "", { text: file.text, base: file.hash });
await fits(house, 422, "PUT", "/home/text", "", { text: "routine {" });
await fits(house, 200, "GET", "/home/versions");
await fits(house, 200, "GET", "/home/versions/1");
await fits(house, 404, "GET", "/home/versions/99");
await fits(house, 409, "POST", "/home/undo", "", { base: file.hash });
await fits(house, 200, "POST", "/home/undo", "", {});
await fits(house, 200, "GET", "/routines/hues/light", "?frames=3&lamp=window");
await fits(house, 404, "GET", "/routines/nowhere/light");
const draft = await fits(house, 200, "POST", "/drafts", "", { text: "routine glow { paint gold -> teal over 5s }\n" });
await fits(house, 200, "POST", "/drafts", "", { text: "routine glow { paint gold -> teal }\n" });
await fits(house, 200, "GET", `/drafts/${draft.draft}/light`, "?routine=glow&start=2&frames=2&length=1");
await fits(house, 200, "POST", "/trials", "", { draft: draft.draft, routine: "glow" });
await fits(house, 200, "GET", "/state");
await fits(house, 200, "DELETE", "/trials");
await fits(house, 422, "DELETE", "/trials");
await fits(house, 200, "GET", "/week", "?days=9&from=2026-03-26");
await fits(house, 200, "GET", "/week", "?days=2&from=2026-10-24&lamp=window");
await fits(house, 400, "GET", "/week", "?days=0");
await fits(house, 200, "GET", "/calendar.ics", "?days=3");
await fits(house, 200, "GET", "/me");
await fits(house, 200, "GET", "/sessions");
await fits(house, 201, "POST", "/invitations", "", { role: "guest" });
await fits(house, 400, "POST", "/invitations", "", { role: "king" });
await fits(house, 409, "POST", "/pairing", "", {});
await fits(house, 404, "DELETE", "/sessions/0000");
await house.stop();
house.options = ["--pairing", "code"];
house.port = 0;
await house.start();
await fits(house, 200, "GET", "/me");
await fits(house, 401, "GET", "/state");
await fits(house, 202, "POST", "/pairing", "", {});
const code = /the code for \S+ is (\d+)/.exec(house.out)[1];
await fits(house, 403, "POST", "/sessions", "", { code: "11" });
const paired = await fits(house, 201, "POST", "/sessions", "", { code, name: "a program" });
const bearer = { Authorization: "Bearer " + paired.token };
await fits(house, 200, "GET", "/sessions", "", null, bearer);
await fits(house, 200, "DELETE", `/sessions/${paired.session.id}`, "", null, bearer);
const touched = new Set([...seen].map((one) => one.split(" ").slice(0, 2).join(" ").replace(/\{[^}]*\}/g, "*")));
const untouched = told.filter((one) => !touched.has(one));
expect(JSON.stringify(untouched) === JSON.stringify(["GET /drafts/*/events", "GET /events"]), `every operation but the two streams to be tried: ${untouched} are not`);
console.log(`measured: ${seen.size} kinds of answers fit spec/http.yaml`);
await house.stop();
house.end();
close();

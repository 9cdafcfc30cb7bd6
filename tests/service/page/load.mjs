// load.mjs PORT: clients that mean no good, all on this machine and bounded. Prints what came of each.
import net from "node:net";

const port = Number(process.argv[2]), host = "127.0.0.1";
let failed = 0;
const expect = (holds, what) => { if (!holds) { failed++; console.log("expected " + what); } };
const wait = (ms) => new Promise((done) => setTimeout(done, ms));

// One connection: sends, and resolves with what came, when it closes or after so long.
function talk(bytes, patience = 5000) {
  return new Promise((done) => {
    let heard = "";
    const socket = net.connect(port, host);
    const end = () => { clearTimeout(timer); socket.destroy(); done(heard); };
    const timer = setTimeout(end, patience);
    socket.on("error", end);
    socket.on("close", end);
    socket.on("data", (data) => { heard += data.toString("latin1"); if (heard.includes("\r\n\r\n")) end(); });
    socket.on("connect", () => socket.write(bytes));
  });
}
const HEAD = `Host: localhost:${port}\r\n`;
const status = (text) => (/^HTTP\/1\.1 (\d+)/.exec(text) || [])[1] || "closed";

// -------- a byte every two seconds, while all else goes on: looked at in the end --------
const started = Date.now();
const drips = Array.from({ length: 10 }, () => {
  const socket = net.connect({ port, host, localAddress: "127.0.0.3" });
  socket.on("error", () => {});
  socket.on("close", () => (socket.lasted ??= (Date.now() - started) / 1000));
  socket.resume();
  socket.write(`GET /v1/state HTTP/1.1\r\n${HEAD}X-Slow: `);
  return socket;
});
const dripping = setInterval(() => { for (const socket of drips) if (socket.writable) socket.write("a"); }, 2000);

// -------- malformed requests --------
let seed = 12345;
const lot = (n) => (seed = (seed * 1103515245 + 12345) & 0x7fffffff) % n;
const MAKERS = [
  () => Buffer.from(Array.from({ length: 1 + lot(400) }, () => lot(256))),
  () => `GET /v1/${"x".repeat(lot(9000))} HTTP/1.1\r\n${HEAD}\r\n`,
  () => `GET /v1/state HTTP/1.1\r\n${"A".repeat(lot(200))}: ${"b".repeat(lot(40000))}\r\n${HEAD}\r\n`,
  () => `POST /v1/acts HTTP/1.1\r\n${HEAD}Content-Type: application/json\r\nContent-Length: ${lot(50)}\r\n\r\n{"act":${"[".repeat(lot(60))}`,
  () => `POST /v1/acts HTTP/1.1\r\n${HEAD}Content-Type: application/json\r\nContent-Length: -1\r\n\r\n{}`,
  () => `POST /v1/acts HTTP/1.1\r\n${HEAD}Content-Type: application/json\r\nContent-Length: 99999999999999999999\r\n\r\n{}`,
  () => `PUT /v1/home/text HTTP/1.1\r\n${HEAD}Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\nffffffffff\r\nx`,
  () => `GET /v1/week?from=${"9".repeat(lot(50))}&days=${lot(1e6)} HTTP/1.1\r\n${HEAD}\r\n`,
  () => `GET /%00%ff/../../etc/passwd HTTP/1.1\r\n${HEAD}\r\n`,
  () => `DELETE /v1/sessions/${"a".repeat(lot(300))} HTTP/1.1\r\n${HEAD}\r\n`,
  () => `BREW /v1/state HTTP/9.9\r\n${HEAD}\r\n`,
  () => `GET /v1/state HTTP/1.1\r\nHost: ${"h".repeat(lot(3000))}\r\nHost: b\r\n\r\n`,
];
const codes = {};
for (let round = 0; round < 10000; round += 20) {
  const said = await Promise.all(Array.from({ length: 20 }, (_, i) => talk(MAKERS[(round + i) % MAKERS.length](), 120)));
  for (const one of said) codes[status(one)] = (codes[status(one)] || 0) + 1;
}
console.log("10,000 malformed requests: " + JSON.stringify(codes));
// 505: one maker asks for HTTP 9.9 (RFC 9110, 15.6.6).
expect(Object.keys(codes).every((code) => !/^[15]/.test(code) || ["503", "505"].includes(code)), "no server error for malformed requests");
expect((codes["400"] || 0) > 1000, "malformed requests to be answered");
// One maker may make what is right: a header that is long but for which there is room.
expect((codes["200"] || 0) <= Math.ceil(10000 / MAKERS.length), "malformed requests not to be taken for right ones");

// -------- slow clients and far too many --------
const slow = [];
for (let i = 0; i < 200; i++) {
  const socket = net.connect({ port, host, localAddress: "127.0.0.5" });
  socket.on("error", () => {});
  socket.write(`POST /v1/acts HTTP/1.1\r\n${HEAD}Content-Ty`);
  slow.push(socket);
}
const drip = setInterval(() => { for (const socket of slow) if (socket.writable) socket.write("p"); }, 300);
await wait(1500);
let kept = slow.filter((socket) => !socket.destroyed && socket.readyState === "open").length;
console.log(`200 slow clients: ${kept} are waited for`);
expect(kept <= 64, "slow clients of one address to be limited");
clearInterval(drip);
for (const socket of slow) socket.destroy();
await wait(300);
// From an address of their own: what the kernel still hands over of them when they are gone takes
// places of that address, not of those below.
const many = Array.from({ length: 1000 }, () => { const socket = net.connect({ port, host, localAddress: "127.0.0.4" }); socket.on("error", () => {}); return socket; });
await wait(1500);
kept = many.filter((socket) => !socket.destroyed && socket.readyState === "open").length;
console.log(`1,000 connections: ${kept} are held, those that wait in the kernel's queue included`);
for (const socket of many) socket.destroy();
await wait(300);

// -------- all places taken by those who ask nothing --------
const silent = Array.from({ length: 64 }, (_, i) => { const socket = net.connect({ port, host, localAddress: i < 32 ? "127.0.0.6" : "127.0.0.7" }); socket.on("error", () => {}); return socket; });
await wait(500);
const asked = Date.now();
const beside = await talk(`GET /v1/me HTTP/1.1\r\n${HEAD}\r\n`, 10000);
console.log(`beside 64 silent connections: ${status(beside)} after ${((Date.now() - asked) / 1000).toFixed(1)} s`);
expect(["200", "429"].includes(status(beside)) && Date.now() - asked < 8000, `who asks to be answered beside 64 who ask nothing: ${beside.slice(0, 100)}`);
for (const socket of silent) socket.destroy();
await wait(300);

// -------- an upload of 1 GB --------
let sent = 0, heard = "";
await new Promise((done) => {
  const socket = net.connect(port, host), piece = Buffer.alloc(1 << 20, 97);
  const timer = setTimeout(() => { socket.destroy(); done(); }, 20000);
  socket.on("error", () => {});
  socket.on("close", () => { clearTimeout(timer); done(); });
  socket.on("data", (data) => (heard += data));
  socket.write(`PUT /v1/home/text HTTP/1.1\r\n${HEAD}Content-Type: application/json\r\nContent-Length: ${1 << 30}\r\n\r\n`);
  const pump = () => { while (socket.writable && sent < 1 << 30) { sent += piece.length; if (!socket.write(piece)) return socket.once("drain", pump); } };
  pump();
});
console.log(`an upload of 1 GB: ${status(heard)} after ${Math.round(sent / 1048576)} MiB were written`);
expect(["413", "closed"].includes(status(heard)) && sent < 64 << 20, "an upload of 1 GB to be refused early");

// -------- 50 event streams from two addresses, half of those of the first deaf --------
const streams = Array.from({ length: 50 }, (_, i) => {
  const socket = net.connect({ port, host, localAddress: i < 30 ? "127.0.0.1" : "127.0.0.2" });
  socket.on("error", () => {});
  socket.bytes = 0;
  socket.begun = "";
  if (i % 2 || i >= 30) socket.on("data", (data) => { socket.bytes += data.length; socket.begun ||= data.toString("latin1"); });
  else socket.pause();
  socket.write(`GET /v1/events?light=*&rate=30 HTTP/1.1\r\n${HEAD}\r\n`);
  return socket;
});
await wait(6000);
const listening = streams.filter((socket, i) => i % 2 || i >= 30), refused = listening.filter((socket) => status(socket.begun) === "503");
const served = listening.filter((socket) => socket.bytes > 5000);
console.log(`50 event streams for 6 s, 15 of them deaf: ${served.length} of the 35 others served, ${refused.length} refused; ${Math.min(...served.map((socket) => socket.bytes))} bytes each at least`);
expect(served.length === 33 && refused.length === 2, "48 event streams to be served beside deaf ones, and two to be refused");
for (const socket of streams) socket.destroy();
await wait(500);
while (drips.some((socket) => !socket.lasted) && Date.now() - started < 75000) await wait(200);
clearInterval(dripping);
const lasted = drips.map((socket) => socket.lasted ?? Infinity);
console.log(`10 clients with a byte every 2 s: closed after ${Math.min(...lasted).toFixed(1)} to ${Math.max(...lasted).toFixed(1)} s`);
expect(lasted.every((seconds) => seconds > 55 && seconds < 70), "a request to have a minute, however it trickles");
const last = await talk(`GET /v1/me HTTP/1.1\r\n${HEAD}\r\n`);
expect(status(last) === "200" || status(last) === "429", `the page to answer after all that: ${last.slice(0, 200)}`);
process.exit(failed ? 1 : 0);

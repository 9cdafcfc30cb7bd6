// Who may, what this lamp is, and how a phone comes in.
import { get, send, remove } from "/talk.js";
import { $, make, plain, say, doing, day, sameFocus } from "/words.js";

function fact(name, ...words) {
  return [make("dt", { textContent: name }), make("dd", {}, ...words)];
}

export class Lamp {
  constructor(ended) {
    this.ended = ended;
    $("invite-guest").onclick = () => doing(() => this.invite("guest"));
    $("invite-owner").onclick = () => doing(() => this.invite("owner"));
    $("leave").onclick = () => doing(async () => { await remove("/sessions/mine"); this.ended(); });
  }
  async show(me, state) {
    this.tell(state);
    const owner = me.role === "owner";
    $("open-door").hidden = me.pairing !== "none";
    $("access").hidden = me.pairing === "none";
    $("leave").hidden = !me.session;
    $("sessions").hidden = !owner;
    for (const id of ["invite-guest", "invite-owner"]) $(id).hidden = !owner;
    if (owner && me.pairing === "code") await this.readSessions();
  }
  tell(state) {
    if (!state) return;
    const { page, lamps = [] } = state.player || {}, address = page || location.origin + "/";
    const told = JSON.stringify([address, lamps, state.clock]);
    if (told === this.told) return; // a link that has the focus keeps it
    this.told = told;
    $("facts").replaceChildren(
      ...fact("Address", make("a", { href: address, textContent: address })),
      ...lamps.flatMap((lamp) => fact(plain(lamp.lamp) || "Lamp", lamp.says || "is reached")),
      ...fact("Clock", state.clock.trusted ? "" : "not to be trusted: ", state.clock.says),
      ...fact("Time zones", `of the database ${state.clock.zones}`));
  }
  async readSessions() {
    const { sessions } = await get("/sessions");
    sameFocus($("sessions"), () => $("sessions").replaceChildren(...sessions.map((session) => {
      const words = make("span", {}, session.name + (session.mine ? ", this one" : ""), make("small", { textContent: `${session.role}, seen ${day(session.seen)}` }));
      const end = make("button", { type: "button", className: "plain", textContent: "End", ariaLabel: `End the session of ${session.name}` });
      end.onclick = () => doing(async () => {
        await remove(`/sessions/${session.id}`);
        if (session.mine) return this.ended();
        say(`${session.name} may no longer.`);
        await this.readSessions();
      });
      return make("li", {}, words, end);
    })));
  }
  async invite(role) {
    const { code, until } = await send("POST", "/invitations", { role });
    $("invitation").hidden = false;
    $("invitation").textContent = code;
    say(`This code lets one ${role === "guest" ? "guest look" : "person in"}, until ${day(until)}.`);
  }
}

export class Pair {
  constructor(paired) {
    $("pair-show").onclick = () => doing(async () => {
      const { digits } = await send("POST", "/pairing");
      say(`The lamp shows ${digits} digits now, for two minutes.`);
      $("pair-code").focus();
    });
    $("pair-form").onsubmit = (event) => {
      event.preventDefault();
      doing(async () => {
        await send("POST", "/sessions", { code: $("pair-code").value.replace(/\s/g, ""), name: $("pair-name").value });
        $("pair-code").value = "";
        say("This phone may.");
        paired();
      });
    };
  }
}

// Who may, and how the page looks.
import { get, send, remove } from "/talk.js";
import { $, make, say, doing, day } from "/words.js";

export class Lamp {
  constructor(ended) {
    this.ended = ended;
    $("invite-guest").onclick = () => doing(() => this.invite("guest"));
    $("invite-owner").onclick = () => doing(() => this.invite("owner"));
    $("leave").onclick = () => doing(() => this.leave());
  }
  async show(me, state) {
    this.me = me;
    const page = state && state.player && state.player.page;
    const clock = state ? state.clock.says : "";
    $("lamp-words").textContent = [page && `Its address: ${page} .`, clock && `The clock: ${clock}.`, state && `Time zones of ${state.clock.zones}.`].filter(Boolean).join(" ");
    $("access").hidden = me.pairing === "none";
    $("leave").hidden = !me.session;
    for (const id of ["invite-guest", "invite-owner"]) $(id).disabled = me.role !== "owner";
    if (me.role === "owner" && me.pairing === "code") await this.readSessions();
  }
  async readSessions() {
    const { sessions } = await get("/sessions");
    $("sessions").replaceChildren(...sessions.map((session) => {
      const words = `${session.name}${session.mine ? " (this one)" : ""}, ${session.role}, last seen ${day(session.seen)}`;
      const end = make("button", { type: "button", className: "quiet", textContent: "End", ariaLabel: `End the session of ${session.name}` });
      end.onclick = () => doing(async () => {
        await remove(`/sessions/${session.id}`);
        if (session.mine) this.ended();
        else await this.readSessions();
      });
      return make("li", {}, words, end);
    }));
  }
  async invite(role) {
    const { code, until } = await send("POST", "/invitations", { role });
    $("invitation").hidden = false;
    $("invitation").textContent = code;
    say(`This code lets one ${role === "guest" ? "guest look" : "person in"}, until ${day(until)}.`);
  }
  async leave() {
    await remove("/sessions/mine");
    this.ended();
  }
}

export class Pair {
  constructor(paired) {
    $("pair-show").onclick = () => doing(async () => {
      const shown = await send("POST", "/pairing");
      say(`The lamp shows ${shown.digits} digits now, for two minutes.`);
      $("pair-code").focus();
    });
    $("pair-form").onsubmit = (event) => {
      event.preventDefault();
      doing(async () => {
        await send("POST", "/sessions", { code: $("pair-code").value, name: $("pair-name").value });
        $("pair-code").value = "";
        say("This phone may.");
        paired();
      });
    };
  }
}

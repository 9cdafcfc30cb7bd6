// The home files that played before.
import { get } from "/talk.js";
import { $, make, doing, day, sameFocus } from "/words.js";

export class Versions {
  // look(text, when): into the editor
  constructor(look) {
    this.look = look;
  }
  async read() {
    const { versions } = await get("/home/versions");
    this.before = versions.length > 1; // there is one to go back to
    $("versions-title").hidden = !versions.length;
    sameFocus($("versions"), () => $("versions").replaceChildren(...versions.map((version, i) => {
      const when = day(version.kept), bytes = `${version.bytes.toLocaleString("en-GB")} bytes`;
      const button = make("button", { type: "button", className: "plain", textContent: "Look", ariaLabel: `Look at the file of ${when}` });
      button.dataset.key = version.number;
      button.onclick = () => doing(async () => this.look((await get(`/home/versions/${version.number}`)).text, when));
      return make("li", {}, make("span", {}, when, make("small", { textContent: i ? bytes : `${bytes}, plays now` })), button);
    })));
  }
}

// The home files that played before.
import { get } from "/talk.js";
import { $, make, doing, day } from "/words.js";

export class Versions {
  // look(text, when): into the editor
  constructor(look) {
    this.look = look;
  }
  async read(owner) {
    const { versions } = await get("/home/versions");
    $("undo-keep").disabled = versions.length < 2 || !owner;
    $("versions-title").hidden = !versions.length;
    $("versions").replaceChildren(...versions.map((version, i) => {
      const when = day(version.kept), bytes = `${version.bytes.toLocaleString("en-GB")} bytes`;
      const button = make("button", { type: "button", className: "plain", textContent: "Look", ariaLabel: `Look at the file of ${when}` });
      button.onclick = () => doing(async () => this.look((await get(`/home/versions/${version.number}`)).text, when));
      return make("li", {}, make("span", {}, when, make("small", { textContent: i ? bytes : `${bytes}, plays now` })), button);
    }));
  }
}

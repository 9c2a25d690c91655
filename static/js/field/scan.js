/* A code is read by the camera or typed. The camera starts by a button only and is let go at every end: a code
   was read, somebody went back, the page was left or put aside, or nothing was read for a while. */

import { gettext, interpolate, pgettext } from "./say.js";
import { openCamera } from "./scan-camera.js";
import { makeReader } from "./scan-reader.js";

const ALPHABET = /^[23456789BCDFGHJKMNPQRSTVWXZ]{4,16}$/;
const ADDRESS = /^HTTPS?:\/\/[^/]+\/Q\/([^/?#]+)$/;
const BETWEEN_LOOKS_MS = 120;
const LONGEST_MS = 120_000;

/* What a label or a hand says: a tag, or why it is none. The host is not asked, for an installation may answer to
   several; a tag of another installation is known nowhere here. */
export function tagOf(text) {
  const said = text.trim().toUpperCase();
  const tag = (ADDRESS.exec(said)?.[1] ?? said).replace(/[\s-]/g, "");
  if (ALPHABET.test(tag)) return { tag };
  if (!said) return { why: gettext("Type the code that stands beside the square.") };
  if (/^[A-Z]+:/.test(said)) return { why: gettext("This is another code, not one of our labels. Look for the label with our code.") };
  return { why: interpolate(gettext("“%(said)s” is no code of ours. A code has capitals and digits, without vowels, 0, 1 and L."), { said: text.trim().slice(0, 40) }) };
}

export function scan(host) {
  return new Promise((resolve) => new Panel(host, resolve).show());
}

class Panel {
  constructor(host, resolve) {
    this.host = host;
    this.resolve = resolve;
    this.root = build();
    this.part = (name) => this.root.querySelector(`[data-scan=${name}]`);
    this.camera = null;
    this.asked = 0;
    this.putAside = () => { if (document.hidden && this.isOn()) this.stop(gettext("The camera was switched off while you were away.")); };
    this.leave = () => this.end(null);
  }

  show() {
    this.host.replaceChildren(this.root);
    this.part("start").addEventListener("click", () => this.start());
    this.part("stop").addEventListener("click", () => this.stop(gettext("The camera is off.")));
    this.part("torch").addEventListener("click", () => this.turnTorch());
    this.part("back").addEventListener("click", this.leave);
    this.part("form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.take(this.part("typed").value);
    });
    document.addEventListener("visibilitychange", this.putAside);
    window.addEventListener("pagehide", this.leave);
    this.part("start").focus();
  }

  isOn() {
    return Boolean(this.camera) || this.part("start").disabled;
  }

  /* Said once: a wrong code stays in front of the camera for a while. */
  say(words) {
    if (this.part("words").textContent !== words) this.part("words").textContent = words;
  }

  async start() {
    const turn = ++this.asked;
    const isWanted = () => turn === this.asked && this.root.isConnected;
    this.part("start").disabled = true;
    this.say(gettext("The camera starts. Your browser may ask whether it is allowed."));
    try {
      const reading = makeReader();
      // Waited for below; until then a failure of it is nobody's.
      reading.catch(() => {});
      const camera = await openCamera(this.part("picture"), isWanted);
      if (!isWanted()) return camera.close();
      this.camera = camera;
      const reader = await reading;
      if (isWanted()) this.look(reader);
    } catch (error) {
      if (turn === this.asked) this.stop(`${error.message} ${gettext("The code can always be typed: it stands beside the square.")}`);
    }
  }

  async look(reader) {
    const camera = this.camera;
    const until = Date.now() + LONGEST_MS;
    this.part("frame").hidden = this.part("stop").hidden = false;
    this.part("start").hidden = true;
    this.part("torch").hidden = !camera.hasTorch;
    this.say(gettext("Hold the square of the label into the frame."));
    while (this.camera === camera) {
      if (!this.root.isConnected) return this.end(null);
      if (Date.now() > until) return this.stop(gettext("Nothing was read for two minutes; the camera is off."));
      const text = await reader(camera.video).catch(() => null);
      if (text !== null && this.camera === camera && this.take(text)) return;
      await new Promise((goOn) => setTimeout(goOn, BETWEEN_LOOKS_MS));
    }
  }

  async turnTorch() {
    const button = this.part("torch");
    const isOn = button.getAttribute("aria-pressed") === "true";
    if (await this.camera?.setTorch(!isOn)) button.setAttribute("aria-pressed", String(!isOn));
    else this.say(gettext("The light did not answer."));
  }

  take(text) {
    const { tag, why } = tagOf(text);
    if (tag) this.end(tag);
    else this.say(why);
    return Boolean(tag);
  }

  letGo() {
    this.asked += 1;
    this.camera?.close();
    this.camera = null;
  }

  stop(words) {
    this.letGo();
    this.part("frame").hidden = this.part("stop").hidden = this.part("torch").hidden = true;
    this.part("torch").setAttribute("aria-pressed", "false");
    this.part("start").hidden = this.part("start").disabled = false;
    this.say(words);
  }

  end(tag) {
    this.letGo();
    document.removeEventListener("visibilitychange", this.putAside);
    window.removeEventListener("pagehide", this.leave);
    this.root.remove();
    if (tag) navigator.vibrate?.(60);
    this.resolve(tag);
  }
}

const PANEL = `
  <div class="scan-frame" data-scan="frame" hidden><video data-scan="picture" playsinline muted></video></div>
  <p class="scan-words" data-scan="words" role="status"></p>
  <div class="scan-acts">
    <button class="button button-primary" type="button" data-scan="start"></button>
    <button class="button" type="button" data-scan="stop" hidden></button>
    <button class="button" type="button" data-scan="torch" aria-pressed="false" hidden></button>
  </div>
  <form class="scan-typing" data-scan="form">
    <div class="field"><label for="scan-typed" data-scan="label"></label>
      <input class="code" id="scan-typed" data-scan="typed" autocomplete="off" autocapitalize="characters" spellcheck="false" enterkeyhint="go" maxlength="200"></div>
    <div class="scan-acts"><button class="button" type="submit" data-scan="take"></button>
      <button class="button" type="button" data-scan="back"></button></div>
  </form>`;
// Set as text: a language never writes marks.
const WORDS = {
  words: gettext("The camera reads the label of a door or a core. Without it, type the code."),
  start: gettext("Use the camera"), stop: gettext("Stop the camera"), torch: pgettext("lamp", "Light"),
  label: gettext("Code, typed"), take: gettext("Take this code"), back: gettext("Go back"),
};

function build() {
  const panel = document.createElement("div");
  panel.className = "scan";
  panel.innerHTML = PANEL;
  for (const [name, words] of Object.entries(WORDS)) panel.querySelector(`[data-scan=${name}]`).textContent = words;
  panel.querySelector("video").setAttribute("aria-label", gettext("What the camera sees"));
  return panel;
}

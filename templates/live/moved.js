// What a reader's change has moved: marked in the margin with what stood there before, and the verdicts that changed
// counted at the head. The marks speak of one given at a time; those of the given before go with the next one.

class Moved {
  constructor() {
    this.before = stands();
    this.by = null;
    this.said = make("p", { class: "verdicts-changed", role: "status", "data-live": "moved" });
    document.querySelector(".masthead").append(this.said);
  }

  /** A reader turns to this given: what stands now is what it was before. */
  begins(name) {
    if (name === this.by) return;
    this.by = name;
    this.before = stands();
  }

  /** All is put back: nothing is marked. */
  ends() {
    this.by = null;
    this.before = new Map();
  }

  /** Marks what differs now. */
  show() {
    const verdicts = [];
    for (const [key, { place, value, spread, verdict, room }] of stands()) {
      const was = this.before.get(key);
      if (!was) {
        mark(place, "");
        continue;
      }
      let words = "";
      if (was.verdict !== verdict) words = [was.verdict, was.room].filter(Boolean).join(", ");
      else if (was.room !== room) words = was.room;
      else if (was.value !== value) words = was.value;
      else if (was.spread !== spread) words = was.spread;
      mark(place, words && worded("was", { words }));
      if (was.verdict !== verdict) verdicts.push([key, was.verdict, verdict]);
    }
    const title = (key) => document.querySelector(`.standing a[href="#${CSS.escape(key)}"]`)?.textContent ?? key;
    const parts = verdicts.flatMap(([key, was, now], i) => [i ? "; " : "", make("a", { href: `#${key}` }, title(key)), `: ${was} → ${now}`]);
    const count = countWorded("verdicts_changed", verdicts.length);
    const fresh = make("p", {}, ...(verdicts.length ? [make("strong", {}, count), ": ", ...parts] : []));
    // Said aloud only where it differs.
    if (this.said.innerHTML !== fresh.innerHTML) this.said.replaceChildren(...fresh.childNodes);
  }
}

/** What the page says of each value and each requirement, and where. */
function stands() {
  const said = (place, part) => place.querySelector(part)?.textContent.trim() ?? "";
  const found = new Map();
  for (const place of document.querySelectorAll("main .row > .margin")) {
    const key = place.parentElement.id;
    if (!key || !place.firstElementChild) continue;
    const [value, spread, verdict, room] = [":scope > .came-to", ":scope > .varies > summary", ":scope > .verdict", ":scope > .room"].map((part) => said(place, part));
    if (value || verdict) found.set(key, { place, value, spread, verdict, room });
  }
  return found;
}

/** A line under the value or the verdict; empty words take it away. */
function mark(place, words) {
  let line = place.querySelector(":scope > [data-live=moved]");
  place.toggleAttribute("data-live-moved", Boolean(words));
  if (!words) return line?.remove();
  if (!line) {
    line = make("p", { class: "moved", "data-live": "moved" });
    place.querySelector(":scope > :is(.came-to, .verdict)").after(line);
  }
  if (line.textContent !== words) line.textContent = words;
}

// Pages with runs over time, whose evaluation takes long: a first engine works out the nominal values at once, and the page shows
// them; ranges and verdicts are greyed until the whole answer of a second one is there.

class Glance {
  constructor(places, hearFields, bar) {
    Object.assign(this, { places, hearFields, bar });
    this.engine = null;
    /** When the change was made that is shown whole. */
    this.shown = null;
    /** When the newest change was made. */
    this.newest = 0;
    /** Blocks of answers that came after a newer change, which the engine takes for shown. */
    this.held = new Map();
    this.waiting = [];
  }

  /** Starts its engine; `began` takes the worksheet's first answer, or nothing where there is none. */
  start(modules, sheet, began) {
    this.engine = startEngine(modules, (data, about) => (about ? this.heard(data, about) : began(data.answer)), "glance");
    this.engine.update(sheet);
  }

  ask(texts, about) {
    this.newest = about.at;
    // What its author wrote, the page shows.
    if (this.shown === null) this.shown = about.at;
    else this.engine?.update(texts, about);
  }

  /** Whether a whole answer is to be shown; one that a newer change has overtaken is not. */
  lets(answer, at) {
    if (!this.engine) return true;
    for (const [number, html] of answer.changed) this.held.set(number, html);
    if (at !== this.newest) return false;
    answer.changed = [...this.held];
    this.held.clear();
    this.bar.say("");
    this.ends(at);
    return true;
  }

  /** Nothing follows any more. */
  ends(at) {
    for (const row of document.querySelectorAll("[data-live-following]")) row.removeAttribute("data-live-following");
    this.shown = at;
    for (const resolve of this.waiting.splice(0)) setTimeout(resolve);
  }

  heard(data, { changes, at }) {
    if (data.failed || at !== this.newest || at === this.shown) return;
    for (const html of data.answer.blocks) {
      for (const row of elementsOf(html).flatMap((element) => [element, ...element.querySelectorAll(".row[id]")])) this.row(row);
    }
    data.answer.inlines.forEach((html, number) => {
      if (elementsOf(html)[0]?.dataset.format !== "range") this.places.inline(number, html);
    });
    this.hearFields(data.answer, changes);
    this.bar.say(worded("follow"));
    performance.measure("benchleaf: asked to nominal", { start: at, end: performance.now() });
  }

  /** Sets the nominal values of a row: its formula, and the number in its margin. */
  row(fresh) {
    const old = fresh.matches(".row[id]") ? document.getElementById(fresh.id) : null;
    if (!old?.matches(".row")) return;
    const parts = (row) => [...row.querySelectorAll(":scope > .reasoning > .formula, :scope > .margin > .came-to")];
    const [before, now] = [parts(old), parts(fresh)];
    if (before.length !== now.length) return;
    const differs = now.filter((part, at) => part.outerHTML !== before[at].outerHTML);
    if (!differs.length) return;
    now.forEach((part, at) => patch(before[at], part));
    old.dataset.liveFollowing = "true";
  }

  /** Comes when nothing on the page is still to follow. */
  whole() {
    const follows = this.engine && this.shown !== this.newest;
    return follows ? new Promise((resolve) => this.waiting.push(resolve)) : Promise.resolve();
  }
}

// The live page: fields for the givens, the address that carries the changes, the bar that says how the worksheet
// stands, and saving. Nothing starts before the page has been shown.

function whenShown(start) {
  requestAnimationFrame(() => setTimeout(start));
}

/** The two modules, as a page has them inside. */
function modulesInside() {
  const [unpacker, packed] = document.getElementById("_engine").textContent.trim().split(".");
  return { unpacker, packed: Promise.resolve(packed) };
}

/** The engine's module from the file beside the page, which puts it at this place; it may have come before this script. */
function engineBeside(place) {
  // Before that file, an element of the page may go by this name.
  if (typeof self[place] === "string") return Promise.resolve(self[place]);
  return new Promise((resolve) => addEventListener(place, () => resolve(self[place]), { once: true }));
}

function live(modules) {
  const text = (id) => document.getElementById(id).textContent;
  const author = JSON.parse(text("_worksheet"));
  const setting = JSON.parse(text("_setting"));
  const places = new Places(document.body);
  const written = document.getElementById("_written");
  const exercises = [...document.querySelectorAll("[data-exercise]")];
  const asSet = exercises.map((section) => section.outerHTML);
  const bar = new Bar();
  const sections = new Sections();
  const moved = new Moved();
  const authors = new AuthorsFigures();
  /** What the reader wants, and the last of it that the engine took, by the given's name. */
  const wanted = new Map();
  const taken = new Map();
  let fields = null;
  let steps = null;
  let costs = null;
  let answer = null;
  const glance = new Glance(places, hearFields, bar);
  const sheet = [author, setting.outline, String(setting.samples ?? ""), String(setting.seed ?? "")];
  let engine = null;

  if (hasRunsOverTime(setting.outline)) {
    // What a field needs is known long before the ranges are, which the page shows already.
    glance.start(modules, sheet, (said) => {
      engine = startEngine(modules, heard);
      recompute();
      if (said) begin(said);
    });
  } else {
    engine = startEngine(modules, heard);
    recompute();
  }

  function recompute() {
    const changes = [...wanted].flatMap(([name, text]) => (taken.has(name) ? [name, text, name, taken.get(name)] : [name, text]));
    const about = { changes: new Map(wanted), at: performance.now() };
    glance.ask([...sheet, ...changes], about);
    engine.update([...sheet, ...changes], about);
  }

  function heard(data, { changes, at } = {}) {
    if (data.answer && !glance.lets(data.answer, at)) return;
    if (data.failed) {
      glance.ends(at);
      if (fields) bar.say(worded("restarted"));
      return;
    }
    answer = data.answer;
    const refused = readRefused(answer.refused);
    for (const [number, html] of answer.changed) places.block(number, html);
    answer.inlines.forEach((html, number) => places.inline(number, html));
    sections.name();
    setCircuitTexts();
    // What was refused changed nothing, unless something sound stood there before.
    const changed = [...changes.keys()].filter((name) => taken.has(name) || !refused.some((one) => one.name === name));
    authors.show(changed);
    patchHead(authors.headWith(answer.head, changed));
    moved.show();
    if (!fields) begin(answer);
    hearFields(answer, changes);
    steps.again();
    costs.again();
    const { tally, unknown: undecided } = authors.tallied(answer.tally);
    bar.stands(tally, wanted.size, undecided);
    const unknown = refused.find((one) => !fields.has(one.name));
    if (unknown) bar.say(`${unknown.message}.`);
    showWritten();
    const now = performance.now();
    performance.measure("benchleaf: asked to shown", { start: at, end: now });
    performance.measure("benchleaf: engine", { start: now - data.took, end: now });
  }

  /** The first answer: from here on a reader changes values. */
  function begin(said) {
    answer = said;
    fields = new Map();
    for (const [name, given] of readGivens(said.fields)) {
      const row = document.querySelector(`tr[data-given="${CSS.escape(name)}"]`);
      if (row) fields.set(name, new Field(row, given, change));
    }
    document.documentElement.dataset.live = "true";
    bar.appear(actions);
    bar.stands(tallyShown(), 0, 0);
    if (exercises.length) startExercises(assess);
    steps = startSteps(judge);
    startCircuits();
    costs = startCosts(cost);
    showWritten();
    fromAddress();
  }

  function showWritten() {
    written.hidden = false;
    written.querySelector("code").textContent = answer.source;
  }

  /** What the engine says of the fields: what each holds now, and why a value was refused. */
  function hearFields(said, changes) {
    const givens = readGivens(said.fields);
    const refused = readRefused(said.refused);
    for (const [name, text] of changes) if (!refused.some((one) => one.name === name && one.text === text)) taken.set(name, text);
    for (const [name, field] of fields) {
      const refusal = wanted.has(name) && refused.find((one) => one.name === name && one.text === wanted.get(name));
      field.heard(givens.get(name), refusal || null, wanted.has(name));
    }
  }

  /** Puts a learner's attempt to the engine; it is held against the worksheet as its author wrote it. */
  async function assess({ exercise, learner, answer, givesUp }) {
    const asked = [exercise, learner, answer === null ? "" : `=${answer}`, givesUp ? "yes" : ""];
    const [reason, word, message, points, of, solution, ...set] = await engine.ask("assess", [...sheet, ...asked]);
    if (reason) throw new Error(`${reason}.`);
    const inlines = [];
    for (let at = 0; at < set.length; at += 2) inlines.push([Number(set[at]), set[at + 1]]);
    return { inlines, word, message, points: Number(points), of: Number(of), solution };
  }

  /** Holds readings, pairs of a value's name and a text, against the worksheet as it stands now. */
  async function judge(readings) {
    const [, , samples, seed] = sheet;
    const said = await engine.ask("judge", [answer.source, answer.outline, samples, seed, ...readings.flat()]);
    return readings.map((_, i) => ({ word: said[3 * i], message: said[3 * i + 1], bar: said[3 * i + 2] }));
  }

  /** What the parts cost for a number of builds, all of them and one of them; or one text alone, why that cannot be said. */
  const cost = (builds) => engine.ask("cost", [answer.source, answer.outline, "", "", builds]);

  function change(name, text) {
    bar.say("");
    moved.begins(name);
    if (text === null) {
      wanted.delete(name);
      taken.delete(name);
    } else {
      wanted.set(name, text);
    }
    toAddress();
    recompute();
  }

  /* The address */

  function toAddress() {
    const changes = [...wanted].map((pair) => pair.map(encodeURIComponent).join("=")).join("&");
    history.replaceState(history.state, "", changes ? `#${changes}` : location.pathname + location.search);
  }

  function fromAddress() {
    if (!location.hash.includes("=")) {
      // A link inside the page was followed; the changes stay in the address.
      if (wanted.size) toAddress();
      return;
    }
    if (fields && taken.size) moved.begins(location.hash);
    const changes = new Map();
    for (const pair of location.hash.slice(1).split("&")) {
      const [name, text] = pair.split("=").map(decoded);
      if (name && text) changes.set(name, text);
    }
    wanted.clear();
    taken.clear();
    for (const [name, text] of changes) wanted.set(name, text);
    for (const [name, field] of fields) {
      field.input.value = wanted.get(name) ?? field.author.text;
      field.fit();
    }
    recompute();
  }

  addEventListener("hashchange", fromAddress);

  /* The reader's own version */

  const actions = {
    [worded("put_all_back")]: () => {
      moved.ends();
      wanted.clear();
      taken.clear();
      for (const field of fields.values()) {
        field.input.value = field.author.text;
        field.fit();
      }
      toAddress();
      recompute();
      bar.say(worded("all_back"));
    },
    [worded("copy_link")]: async () => {
      try {
        await navigator.clipboard.writeText(location.href);
        bar.say(worded("link_copied"));
      } catch {
        bar.say(worded("link_in_address"));
      }
    },
    [worded("save_worksheet")]: async () => {
      await glance.whole();
      save("md", "text/markdown", answer.source);
    },
    [worded("save_page")]: async () => {
      await glance.whole();
      save("html", "text/html", pageOf(answer, setting, asSet));
    },
  };

  function save(ending, type, content) {
    const name = decoded(location.pathname.split("/").pop() ?? "").replace(/\.html?$/i, "") || "worksheet";
    download(`${name}.${ending}`, type, content);
    bar.say(worded("saved_as", { name: `${name}.${ending}` }));
  }
}

/** How many requirements hold, are at risk and are broken, as the page shows it. */
function tallyShown() {
  return ["holds", "at-risk", "broken", ""].map((status) => document.querySelectorAll(`.row.keep[data-status="${status}"]`).length).join("\t");
}

/** The title, where results stand in it, and the line at the head. */
function patchHead(head) {
  const heading = document.querySelector("h1");
  if (heading.querySelector("[data-inline]") && document.title !== heading.textContent) document.title = heading.textContent;
  const old = document.querySelector(".masthead > .standing");
  const [fresh] = elementsOf(head);
  if (old && fresh) patch(old, fresh);
  else if (fresh) document.querySelector(".masthead").append(fresh);
  else old?.remove();
}

/** The page with the changed worksheet in it, as if its author had rendered that. */
function pageOf({ source, outline, hash, inlines }, setting, exercises) {
  const page = document.documentElement.cloneNode(true);
  for (const set of page.querySelectorAll(".as-set")) set.parentElement.replaceChildren(...set.childNodes);
  // Figures that do not hold for the changed worksheet stay marked as such.
  for (const why of page.querySelectorAll(".stale-why")) why.removeAttribute("data-live");
  for (const kept of page.querySelectorAll("[data-live-kept]")) kept.removeAttribute("data-live-kept");
  for (const added of page.querySelectorAll("[data-live]")) added.remove();
  for (const marked of page.querySelectorAll("[data-live-changed], [data-live-moved]")) {
    marked.removeAttribute("data-live-changed");
    marked.removeAttribute("data-live-moved");
  }
  for (const opened of page.querySelectorAll("details[open]")) opened.removeAttribute("open");
  for (const done of page.querySelectorAll("[data-live-done]")) done.removeAttribute("data-live-done");
  page.querySelector("[aria-current]")?.removeAttribute("aria-current");
  page.removeAttribute("data-live");
  page.querySelectorAll("[data-exercise]").forEach((section, i) => {
    const [whole] = elementsOf(exercises[i]);
    for (const inline of whole.querySelectorAll("[data-inline]")) patch(inline, elementsOf(inlines[inline.dataset.inline])[0]);
    section.replaceWith(whole);
  });
  page.querySelector("#_written").hidden = true;
  page.querySelector("#_written code").replaceChildren();
  page.querySelector("#_setting").textContent = inScript({ ...setting, outline });
  page.querySelector("#_worksheet").textContent = inScript(source);
  const shown = page.querySelector(".foot .hash");
  shown.title = hash;
  shown.textContent = hash.slice(0, shown.textContent.length);
  page.querySelector(".foot time").textContent = new Date().toISOString().slice(0, 10);
  return `<!DOCTYPE html>\n${page.outerHTML}\n`;
}

/** The bar at the lower edge: how the requirements stand now, and what a reader may do with changed values. */
class Bar {
  constructor() {
    this.standing = make("p", { class: "now", role: "status" });
    this.said = make("p", { class: "said", role: "status" });
    this.doing = make("div", { class: "doing" });
    this.element = make("section", { class: "now-bar", "data-live": "bar", "aria-label": worded("bar") }, this.standing, this.doing, this.said);
  }

  appear(actions) {
    for (const [name, action] of Object.entries(actions)) {
      const button = make("button", { type: "button" }, name);
      button.addEventListener("click", action);
      this.doing.append(button);
    }
    document.body.append(this.element);
  }

  stands(tally, changes, undecided) {
    const [holds, atRisk, broken, errors] = tally.split("\t").map(Number);
    const parts = [["broken", broken, "broken"], ["at-risk", atRisk, "at_risk"], ["holds", holds, "holds"]]
      .filter(([, count]) => count > 0)
      .map(([status, count, key]) => make("span", { "data-status": status }, sign(status), make("strong", {}, countWorded(key, count))));
    if (undecided > 0) parts.push(make("span", {}, countWorded("undecided", undecided)));
    if (errors > 0) parts.push(make("span", {}, countWorded("errors", errors)));
    if (changes > 0) parts.push(make("span", { class: "changes" }, countWorded("changed", changes)));
    const fresh = make("p", {}, ...parts.flatMap((part, i) => (i ? [" ", part] : [part])));
    // Said aloud only where it differs.
    if (this.standing.innerHTML !== fresh.innerHTML) this.standing.replaceChildren(...fresh.childNodes);
    this.doing.hidden = changes === 0;
    this.element.hidden = parts.length === 0;
  }

  say(text) {
    this.said.textContent = text;
  }
}

/** The sign of a verdict, as the page has it at its head. */
function sign(status) {
  const drawn = { holds: [["circle", "solid", 6.5]], "at-risk": [["circle", "open", 6], ["path", "solid", "M8 2a6 6 0 0 0 0 12z"]], broken: [["circle", "open", 6], ["path", "open", "M3.8 12.2l8.4-8.4"]] };
  const space = "http://www.w3.org/2000/svg";
  const svg = document.createElementNS(space, "svg");
  for (const [key, value] of [["class", "sign"], ["viewBox", "0 0 16 16"], ["aria-hidden", "true"]]) svg.setAttribute(key, value);
  for (const [name, kind, what] of drawn[status]) {
    const shape = document.createElementNS(space, name);
    shape.setAttribute("class", kind);
    if (name === "circle") for (const [key, value] of [["cx", 8], ["cy", 8], ["r", what]]) shape.setAttribute(key, value);
    else shape.setAttribute("d", what);
    svg.append(shape);
  }
  return svg;
}

/** The givens of an answer by name, in the order of the worksheet. */
function readGivens(lines) {
  const optional = (text) => (text === "" ? null : Number(text));
  const rows = lines.split("\n").filter(Boolean).map((line) => line.split("\t"));
  return new Map(rows.map(([name, text, number, unit, low, high, si]) => [
    name,
    { name, text, number: Number(number), unit, low: optional(low), high: optional(high), si: Number(si) },
  ]));
}

/** Whether a worksheet, or one that it uses, has runs over time: the outline says the word of each block, and the outlines of
 * used worksheets within it have their tabs and line ends in two characters. */
function hasRunsOverTime(outline) {
  return /(\t|\\t)transient(\n|\\+n|$)/.test(outline);
}

function readRefused(lines) {
  const rows = lines.split("\n").filter(Boolean).map((line) => line.split("\t"));
  return rows.map(([name, text, message, help]) => ({ name, text, message, help }));
}

/** As it stands in a script element, whatever it says. */
function inScript(value) {
  return JSON.stringify(value).replaceAll("<", "\\u003c");
}

function decoded(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

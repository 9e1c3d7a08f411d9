// What the preview adds to a page: it follows the worksheet's file, keeps the place that is read over a reload, and shows
// errors over the page.
"use strict";
(() => {
  const page = JSON.parse(document.getElementById("_preview").textContent);
  const store = `benchleaf preview ${page.page}`;

  /* The place that is read */

  history.scrollRestoration = "manual";
  addEventListener("pagehide", () => sessionStorage.setItem(store, JSON.stringify(place())));
  const [{ type }] = performance.getEntriesByType("navigation");
  if (type !== "navigate") {
    const kept = sessionStorage.getItem(store);
    if (kept) restore(JSON.parse(kept));
  }

  /** The first thing in sight, by its kind and its words, and how far below the window's upper edge it stands. */
  function place() {
    const things = nameThings();
    const first = [...things].find(([, element]) => element.getBoundingClientRect().bottom > 0);
    const open = [...things].filter(([, element]) => element.open).map(([name]) => name);
    return { y: scrollY, open, name: first?.[0], top: first?.[1].getBoundingClientRect().top };
  }

  function restore({ y, open, name, top }) {
    for (const one of open) nameThings().get(one)?.setAttribute("open", "");
    let touched = false;
    for (const event of ["wheel", "touchstart", "keydown", "pointerdown"]) {
      addEventListener(event, () => (touched = true), { once: true, passive: true });
    }
    const go = () => {
      if (touched) return;
      const element = nameThings().get(name);
      scrollTo({ top: element ? element.getBoundingClientRect().top + scrollY - top : y, behavior: "instant" });
    };
    go();
    addEventListener("load", go, { once: true });
    // Fields are a little taller than the values that they take the place of.
    const live = new MutationObserver(() => {
      go();
      live.disconnect();
    });
    live.observe(document.documentElement, { attributeFilter: ["data-live"] });
  }

  function nameThings() {
    const counts = new Map();
    const things = new Map();
    for (const element of document.querySelectorAll("h1, :is(main, footer) :is(h2, h3, h4, p, tr, li, figure, details, pre)")) {
      const name = `${element.localName} ${element.textContent.trim().slice(0, 60)}`;
      const count = (counts.get(name) ?? 0) + 1;
      counts.set(name, count);
      things.set(`${name} ${count}`, element);
    }
    return things;
  }

  /* The file */

  const worker = new SharedWorker("/_preview/worker.js");
  worker.port.onmessage = ({ data }) => {
    performance.mark("benchleaf: heard");
    if (data.lost) return say(worded("ended"), [make("p", {}, worded("stays"))]);
    if (data.back) return panel?.classList.contains("ended") && hide();
    dispatchEvent(new CustomEvent("benchleaf-preview", { detail: data }));
    if (data[page.as] !== page.shown) return location.reload();
    if (page.as === "sound" && data.problems.length) return say(...report(data.problems));
    hide();
  };
  const tell = (gone) => worker.port.postMessage({ page: page.page, gone });
  tell(false);
  // All that the preview adds runs by now. From here on the page has its own policy, and is saved with it.
  document.querySelector("meta[http-equiv]").content = page.policy;
  addEventListener("pagehide", () => tell(true));
  addEventListener("pageshow", ({ persisted }) => persisted && tell(false));

  /* Errors over the page */

  let panel = null;

  /** A heading and a list; what only depends on an error is counted. */
  function report(problems) {
    const depends = ({ code }) => code === "E-depends-on-error";
    const causes = problems.filter((one) => !depends(one));
    const told = causes.length ? causes : problems;
    const left = problems.length - told.length;
    const also = countWorded("depends", left);
    const heading = countWorded("errors", told.length);
    return [heading, [...told.map(problem), ...(left ? [make("li", { class: "where" }, also)] : [])]];
  }

  function problem({ line, column, code, message, help, before, marked, after }) {
    const where = line ? make("p", { class: "where" }, `${worded("line", { line, column })} `, make("code", {}, code)) : "";
    const text = line ? make("pre", {}, before, make("mark", {}, marked), after) : "";
    return make("li", {}, where, make("p", {}, ...inCode(`${message}.`)), text, help ? make("p", { class: "help" }, ...inCode(help)) : "");
  }

  function worded(key, values = {}) {
    return page.words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  }

  function countWorded(key, n) {
    return worded(`${key}.${n === 1 ? "one" : "other"}`, { n });
  }

  /** What a message quotes between backticks is set as code. */
  function inCode(message) {
    return message.split("`").map((part, i) => (i % 2 ? make("code", {}, part) : part));
  }

  function say(heading, content) {
    const list = content[0].localName === "li" ? [make("ol", {}, ...content)] : content;
    const buttons = make("p", { class: "doing" });
    const close = make("button", { type: "button" }, worded("hide"));
    close.addEventListener("click", hide);
    buttons.append(close);
    if (list !== content) buttons.append(make("a", { href: `${location.pathname}?current` }, worded("show")));
    const fresh = make("section", { class: list === content ? "preview ended" : "preview", role: "alert", "data-live": "preview" }, make("h2", {}, heading), ...list, buttons);
    panel ? panel.replaceWith(fresh) : document.body.append(fresh);
    panel = fresh;
  }

  function hide() {
    panel?.remove();
    panel = null;
  }

  addEventListener("keydown", ({ key }) => key === "Escape" && hide());

  function make(name, attributes, ...content) {
    const element = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    element.append(...content);
    return element;
  }
})();

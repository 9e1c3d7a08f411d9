// Bringing the page up to date: only what differs is touched, so that focus, selection, scroll and what a reader has
// opened stay as they are. Elements that this script added (data-live) are never taken for the worksheet's own.

/** The places of a page that depend on numbers: the engine's blocks, between comments, and inline results. */
class Places {
  constructor(root) {
    this.blocks = new Map();
    const open = [];
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_COMMENT);
    for (let mark = walker.nextNode(); mark; mark = walker.nextNode()) {
      if (/^\d+$/.test(mark.data)) open.push(mark);
      else if (mark.data === "/" && open.length) this.blocks.set(Number(open.at(-1).data), { from: open.pop(), to: mark });
    }
    this.inlines = new Map();
    // A safety note may stand a second time where power is applied.
    for (const element of root.querySelectorAll("[data-inline]")) {
      const number = Number(element.dataset.inline);
      this.inlines.set(number, [...(this.inlines.get(number) ?? []), element]);
    }
  }

  /** Sets a block anew. An exercise speaks of the author's numbers, or of the learner's own, and stays. */
  block(number, html) {
    const place = this.blocks.get(number);
    if (!place) return;
    const old = [];
    for (let node = place.from.nextSibling; node && node !== place.to; node = node.nextSibling) {
      if (node.nodeType === Node.ELEMENT_NODE && !node.dataset.live) old.push(node);
    }
    if (old.some((element) => element.matches("[data-exercise]"))) return;
    const fresh = elementsOf(html);
    if (fresh.some(waits)) {
      for (const element of old) keep(element);
      return;
    }
    fresh.forEach((element, i) => (old[i] ? patch(old[i], element) : place.to.before(element)));
    for (const element of old.slice(fresh.length)) element.remove();
  }

  /** Sets an inline result anew. */
  inline(number, html) {
    const old = (this.inlines.get(number) ?? []).filter((element) => !element.closest("[data-exercise]"));
    if (old.length) this.inlines.set(number, old.map((element) => patch(element, elementsOf(html)[0])));
  }
}

function elementsOf(html) {
  const template = document.createElement("template");
  template.innerHTML = html;
  return [...template.content.children];
}

/** Makes `old` like `fresh` and gives the element that stands there now. */
function patch(old, fresh) {
  if (waits(fresh)) return keep(old);
  if (isSame(old, fresh)) return old;
  if (old.nodeName !== fresh.nodeName) {
    // Prose inside a block is not set again: it moves over.
    const kept = [...old.querySelectorAll("[data-kept]")];
    fresh.querySelectorAll("[data-kept]").forEach((place, i) => kept[i] && place.replaceChildren(...kept[i].childNodes));
    old.replaceWith(fresh);
    return fresh;
  }
  patchAttributes(old, fresh);
  if (fresh.hasAttribute("data-kept")) return old;
  // A given's cell holds a field; the value as it is set stands beside it, for paper.
  patchChildren((old.nodeName === "TD" && old.querySelector(":scope > .as-set")) || old, fresh);
  return old;
}

/** Whether nothing is to be done, which a browser finds out much faster than it is done. */
function isSame(old, fresh) {
  return old.isEqualNode(fresh) && !fresh.querySelector("[data-waits]");
}

function patchAttributes(old, fresh) {
  for (const { name, value } of fresh.attributes) {
    if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
  for (const { name } of [...old.attributes]) {
    const readers = (name === "open" && old.nodeName === "DETAILS") || name.startsWith("data-live");
    if (!readers && !fresh.hasAttribute(name)) old.removeAttribute(name);
  }
}

function patchChildren(old, fresh) {
  const before = [...old.childNodes].filter((node) => !node.dataset?.live);
  const now = [...fresh.childNodes];
  let last = null;
  let at = 0;
  for (const node of now) {
    const present = before[at++];
    if (present && waits(node)) {
      // All that the author's page has of this statement stays, however many rows that is.
      last = keep(present);
      while (at < before.length && belongsTo(before[at], node)) last = keep(before[at++]);
    } else if (!present) {
      last ? last.after(node) : old.append(node);
      last = node;
    } else if (present.nodeType === Node.ELEMENT_NODE && node.nodeType === Node.ELEMENT_NODE) {
      last = patch(present, node);
    } else if (present.nodeType === node.nodeType) {
      if (present.data !== node.data) present.data = node.data;
      last = present;
    } else {
      present.replaceWith(node);
      last = node;
    }
  }
  for (const node of before.slice(at)) node.remove();
}

/* What follows from a Rust block, which a browser cannot run, stays as its author had it. */

function waits(node) {
  return node.nodeType === Node.ELEMENT_NODE && node.hasAttribute("data-waits");
}

/** Keeps an element as it is, and notes that it was kept: unless it waited in the author's page already. */
function keep(old) {
  if (!waits(old)) old.toggleAttribute("data-live-kept", true);
  return old;
}

/** Whether a node of the author's page is more of a statement that waits: rows of a record, a message below. */
function belongsTo(node, waiting) {
  if (node.nodeType !== Node.ELEMENT_NODE) return false;
  const { statement } = node.dataset;
  return statement === undefined ? node.matches(".of-record, .more, .problem") : statement === waiting.dataset.statement;
}

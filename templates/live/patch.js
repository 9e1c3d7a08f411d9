// Bringing the page up to date: only what differs is touched, so that focus, selection, scroll and what a reader has
// opened stay as they are. Elements that this script added (data-live) are never taken for the worksheet's own.

/** The page's body in pieces, each a run of elements below `main`. */
class Pieces {
  constructor(main) {
    this.main = main;
    this.runs = null;
  }

  /** Takes the pieces that changed; the first time all of them, to find which elements are whose. */
  take(changed) {
    const first = !this.runs;
    if (first) this.runs = [];
    const fragments = changed.map(([at, html]) => [at, elementsOf(html)]);
    if (first) this.deal(fragments);
    for (const [at, elements] of fragments) this.runs[at] = this.replaced(at, elements);
  }

  /** Deals the elements that the page came with out to the pieces. */
  deal(fragments) {
    const own = [...this.main.children].filter((element) => !element.dataset.live);
    if (own.length !== fragments.reduce((sum, [, elements]) => sum + elements.length, 0)) {
      // The page was made by another engine: everything is set anew.
      for (const element of own) element.remove();
      own.length = 0;
    }
    let next = 0;
    for (const [at, elements] of fragments) {
      this.runs[at] = own.slice(next, next + elements.length);
      next += elements.length;
    }
  }

  replaced(at, elements) {
    const old = this.runs[at] ?? [];
    const now = elements.map((element, i) => (old[i] ? patch(old[i], element) : this.insert(at, element)));
    for (const element of old.slice(elements.length)) element.remove();
    // What was inserted stands at the end of its run.
    return now;
  }

  insert(at, element) {
    const behind = this.runs.slice(at + 1).flat().find((other) => other?.isConnected);
    this.main.insertBefore(element, behind ?? null);
    return element;
  }
}

function elementsOf(html) {
  const template = document.createElement("template");
  template.innerHTML = html;
  return [...template.content.children];
}

/** Makes `old` like `fresh` and gives the element that stands there now. */
function patch(old, fresh) {
  if (old.nodeName !== fresh.nodeName) {
    old.replaceWith(fresh);
    return fresh;
  }
  patchAttributes(old, fresh);
  // A given's cell holds a field; the value as it is set stands beside it, for paper.
  patchChildren((old.nodeName === "TD" && old.querySelector(":scope > .as-set")) || old, fresh);
  return old;
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
  now.forEach((node, i) => {
    const present = before[i];
    if (!present) {
      old.append(node);
    } else if (present.nodeType === Node.ELEMENT_NODE && node.nodeType === Node.ELEMENT_NODE) {
      patch(present, node);
    } else if (present.nodeType === node.nodeType) {
      if (present.data !== node.data) present.data = node.data;
    } else {
      present.replaceWith(node);
    }
  });
  for (const node of before.slice(now.length)) node.remove();
}

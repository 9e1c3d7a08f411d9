// What follows from a Rust block stays as its author had it: a browser cannot run Rust. Where a reader changed a given that
// it depends on, it is greyed, and says why.

class AuthorsFigures {
  constructor() {
    const blocks = [...document.querySelectorAll(".rust-calc[data-reads]")];
    const names = (list) => new Set((list ?? "").split(" ").filter(Boolean));
    this.reads = new Map(blocks.map((block) => [block, names(block.dataset.reads)]));
    // What follows may follow from each of the blocks, and hang on other givens besides.
    this.all = new Set(blocks.flatMap((block) => [...names(block.dataset.reads), ...names(block.dataset.beside)]));
    // In a page that a reader saved, what was greyed stays so.
    this.saved = new Set(document.querySelectorAll("[data-stale]"));
    this.head = document.querySelector(".masthead > .standing")?.cloneNode(true);
  }

  get kept() {
    return [...document.querySelectorAll("[data-live-kept]")];
  }

  /** Greys what does not hold for these givens, and takes it back where it does. */
  show(changed) {
    for (const element of this.kept) {
      if (this.saved.has(element)) continue;
      const depends = this.reads.get(element) ?? this.all;
      const because = changed.filter((name) => depends.has(name));
      element.toggleAttribute("data-stale", because.length > 0);
      // A note that is not shown says it in the line that stands for it.
      const place = element.matches("details") ? element.querySelector("summary") : element;
      place.querySelector(":scope > .stale-why")?.remove();
      if (because.length) place.append(why(element, because));
    }
  }

  /** The requirements that stay as the author had them: those that stand, and those that nobody knows of now. */
  keeps() {
    const keeps = this.kept.filter((element) => element.matches(".row.keep"));
    const isStale = (keep) => keep.hasAttribute("data-stale");
    return { standing: keeps.filter((keep) => !isStale(keep)), unknown: keeps.filter(isStale) };
  }

  /** The line at the head, with what the engine here knows nothing of. */
  headWith(head, changed) {
    const { standing, unknown } = this.keeps();
    if (standing.length + unknown.length === 0) return head;
    if (changed.length === 0) return this.head?.outerHTML ?? head;
    const list = elementsOf(head)[0] ?? make("ul", { class: "standing", "aria-label": worded("standing") });
    const count = (keeps, key) => {
      if (!keeps.length) return;
      const links = keeps.flatMap((keep, i) => [i ? "; " : "", make("a", { href: `#${keep.id}` }, titleOf(keep))]);
      list.append(make("li", { class: "wrong" }, make("strong", {}, countWorded(key, keeps.length)), ": ", ...links));
    };
    count(standing, "author_keeps");
    count(unknown, "unknown");
    return list.outerHTML;
  }

  /** How many hold, are at risk, are broken, with those that the author's run decided; and how many nobody knows of. */
  tallied(tally) {
    const { standing, unknown } = this.keeps();
    const counts = tally.split("\t").map(Number);
    for (const keep of standing) counts[["holds", "at-risk", "broken"].indexOf(keep.dataset.status)] += 1;
    return { tally: counts.join("\t"), unknown: unknown.length };
  }
}

function why(element, names) {
  if (element.matches("[data-inline]")) return make("small", { class: "stale-why", "data-live": "why" }, ` ${worded("author_value")}`);
  const key = element.matches(".note, .note-row") ? "stale_note" : element.matches(".rust-calc") ? "stale_block" : "stale";
  return make("p", { class: "stale-why", "data-live": "why" }, countWorded(key, names.length, { names: listWorded(names) }));
}

function titleOf(keep) {
  return keep.querySelector(".what")?.textContent || keep.querySelector("math")?.textContent || keep.id;
}

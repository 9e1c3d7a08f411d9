// The list of sections: it marks the section that is read, and says what the headings say.

class Sections {
  constructor() {
    this.list = document.querySelector(".sections");
    this.entries = [...(this.list?.querySelectorAll("a") ?? [])]
      .map((link) => ({ link, heading: document.getElementById(decoded(link.hash.slice(1))) }))
      .filter(({ heading }) => heading);
    if (!this.entries.length) return;
    let waits = false;
    const soon = () => {
      if (waits) return;
      waits = true;
      requestAnimationFrame(() => {
        waits = false;
        this.mark();
      });
    };
    addEventListener("scroll", soon, { passive: true });
    addEventListener("resize", soon, { passive: true });
    // Whoever goes to a section on a phone wants to read it.
    this.list.addEventListener("click", (event) => event.target.closest("a") && this.list.firstElementChild.removeAttribute("open"));
    this.mark();
  }

  /** The last section whose heading stands in the upper third of the window, or above it. */
  mark() {
    const line = innerHeight / 3;
    const read = this.entries.findLast(({ heading }) => heading.getBoundingClientRect().top < line);
    if (read === this.read) return;
    this.read?.link.removeAttribute("aria-current");
    read?.link.setAttribute("aria-current", "true");
    this.read = read;
    // The list scrolls by itself where it is longer than the window.
    const { top, bottom } = (read ?? this.entries[0]).link.getBoundingClientRect();
    const room = this.list.getBoundingClientRect();
    if (top < room.top) this.list.scrollTop -= room.top - top;
    else if (bottom > room.bottom) this.list.scrollTop += bottom - room.bottom;
  }

  /** Headings may have results in them. */
  name() {
    for (const { link, heading } of this.entries) {
      if (!heading.querySelector("[data-inline]")) continue;
      const words = heading.cloneNode(true);
      words.querySelector(".here")?.remove();
      link.textContent = words.textContent.trim();
    }
  }
}

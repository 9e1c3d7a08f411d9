// The givens as fields: one a given, with what the author wrote, what is wrong with what was typed, and a slider.

/** A given's row as a field. `changed(name, text)` is called with what a reader wants; null puts the author's value back. */
class Field {
  constructor(row, given, changed) {
    this.row = row;
    this.name = given.name;
    this.author = given;
    this.now = given;
    this.changed = changed;
    this.label = row.querySelector("th").textContent.trim() || given.name;
    this.authorText = [".value", ".tolerance"].map((cell) => row.querySelector(cell)?.textContent.trim()).filter(Boolean).join(" ");

    const cell = row.querySelector(".value");
    const set = make("span", { class: "as-set" }, ...cell.childNodes);
    this.input = make("input", {
      type: "text", value: given.text, "aria-label": `${this.label}, ${given.name}`, "data-live": "field",
      autocomplete: "off", autocapitalize: "off", autocorrect: "off", spellcheck: "false", enterkeyhint: "done",
    });
    this.handle = make("button", {
      type: "button", class: "handle", "data-live": "handle", "aria-expanded": "false", "aria-label": worded("slider_for", { name: given.name }), title: worded("slider"),
    });
    cell.replaceChildren(set, this.input, this.handle);
    this.fit();
    this.input.addEventListener("input", () => this.typed());
    this.input.addEventListener("keydown", (event) => this.key(event));
    this.handle.addEventListener("click", () => this.slide());
  }

  typed() {
    this.fit();
    this.changed(this.name, this.input.value === this.author.text ? null : this.input.value);
  }

  key(event) {
    if (event.key === "Escape" && this.input.value !== this.author.text) {
      event.preventDefault();
      this.put(null);
    }
  }

  /** Sets the field from elsewhere: the address, the slider, a reset. */
  put(text) {
    this.input.value = text ?? this.author.text;
    this.typed();
  }

  /** As wide as its text, within reason. */
  fit() {
    this.input.size = Math.min(Math.max([...this.input.value].length + 1, 7), 22);
  }

  /** What the engine made of it. */
  heard(given, refusal, isChanged) {
    this.now = given ?? this.now;
    this.row.toggleAttribute("data-live-changed", isChanged);
    this.showAuthor(isChanged);
    this.showRefusal(refusal);
    this.moveSlider();
  }

  showAuthor(isChanged) {
    if (!isChanged) {
      if (this.was?.contains(document.activeElement)) this.input.focus();
      this.was?.remove();
      this.was = null;
    } else if (!this.was) {
      const back = make("button", { type: "button", class: "back-to", "aria-label": worded("put_back_to", { name: this.name, value: this.authorText }) }, worded("put_back"));
      back.addEventListener("click", () => this.put(null));
      this.was = make("span", { class: "was", "data-live": "was" }, `${worded("author_has", { value: this.authorText })} `, back);
      this.row.querySelector("th").append(this.was);
    }
  }

  showRefusal(refusal) {
    if (refusal) {
      this.input.setAttribute("aria-invalid", "true");
      if (!this.wrong) {
        this.wrong = make("p", { class: "refused", role: "status", id: `refused-${this.name}`, ...markedEnglish });
        this.beneath().append(this.wrong);
        this.input.setAttribute("aria-describedby", this.wrong.id);
      }
      this.wrong.replaceChildren(...inCode(refusal.message), ...(refusal.help ? ["; ", ...inCode(refusal.help)] : []), refusal.help.endsWith("?") ? "" : ".");
    } else if (this.wrong) {
      this.wrong.remove();
      this.wrong = null;
      this.input.removeAttribute("aria-invalid");
      this.input.removeAttribute("aria-describedby");
      this.tidy();
    }
  }

  /** The row below, for what does not fit in the table's columns. */
  beneath() {
    if (!this.below) {
      const cell = make("td", { colspan: String(this.row.cells.length) });
      this.below = make("tr", { class: "beneath", "data-live": "beneath" }, cell);
      this.row.after(this.below);
    }
    return this.below.firstElementChild;
  }

  tidy() {
    if (this.below && !this.wrong && !this.slider) {
      this.below.remove();
      this.below = null;
    }
  }

  slide() {
    if (this.slider) {
      this.slider.parentElement.remove();
      this.slider = null;
      this.tidy();
    } else {
      this.span = slideSpan(this.author);
      this.slider = make("input", { type: "range", min: "-100", max: "100", step: "1", "aria-label": `${this.label}, ${this.name}` });
      const [low, high] = [-100, 100].map((place) => this.span.text(place));
      this.beneath().append(make("div", { class: "slide" }, make("span", {}, low), this.slider, make("span", {}, high)));
      this.slider.addEventListener("input", () => this.slid());
      this.moveSlider();
      this.slider.focus();
    }
    this.handle.setAttribute("aria-expanded", String(Boolean(this.slider)));
  }

  slid() {
    const place = Number(this.slider.value);
    this.slider.setAttribute("aria-valuetext", this.span.text(place));
    this.put(place === 0 ? null : this.span.text(place));
  }

  moveSlider() {
    if (!this.slider || document.activeElement === this.slider) return;
    this.slider.value = String(this.span.place(this.now));
    this.slider.setAttribute("aria-valuetext", this.now.text);
  }
}

/**
 * What a slider runs over. Between the ends that the author wrote, if both are there; else by ratio, a tenth to ten times
 * the author's value; evenly around a value that is zero or stands on a temperature scale.
 */
function slideSpan({ number, unit, low, high, si }) {
  const text = (value) => `${rounded(value)} ${unit}`.trim();
  const evenly = (from, to) => ({
    text: (place) => text(place < 0 ? number + (place / 100) * (number - from) : number + (place / 100) * (to - number)),
    place: (now) => {
      if (now.unit !== unit) return 0;
      const above = now.number >= number;
      const width = above ? to - number : number - from;
      return width === 0 ? 0 : Math.round(((now.number - number) / width) * 100);
    },
  });
  if (low !== null && high !== null) return evenly(low, high);
  if (/^(°|deg)/.test(unit)) return evenly(number - 50, number + 50);
  if (number === 0) return evenly(-1, 1);
  const whole = unit === "" && Number.isInteger(number) && Math.abs(number) < 1000;
  return {
    text: (place) => {
      const value = number * 10 ** (place / 100);
      return whole ? text(Math.round(value)) : text(value);
    },
    place: (now) => (now.si / si > 0 ? Math.round(Math.min(Math.max(Math.log10(now.si / si), -1), 1) * 100) : 0),
  };
}

/** Three significant digits, as they are typed. */
function rounded(value) {
  const short = Number(value.toPrecision(3));
  return Math.abs(short) >= 1e15 || (short !== 0 && Math.abs(short) < 1e-6) ? short.toExponential() : String(short);
}

/** A message of the engine; what it quotes between backticks is set as code. */
function inCode(message) {
  return message.split("`").map((part, i) => (i % 2 ? make("code", {}, part) : part));
}

function make(name, attributes, ...content) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...content);
  return element;
}

/** Gives the reader a file. */
function download(name, type, content) {
  const url = URL.createObjectURL(new Blob([content], { type }));
  make("a", { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}

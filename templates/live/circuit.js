// Circuits: the texts beside the symbols follow the values, a symbol lights what speaks of it, arrow keys lead from symbol to
// symbol, and the drawing can be saved.

/** Sets the texts of the drawings to what the engine's lists say now. */
function setCircuitTexts() {
  for (const circuit of document.querySelectorAll("section.circuit")) {
    for (const text of circuit.querySelectorAll("svg [data-circuit-value]")) {
      const said = circuit.querySelector(`[data-circuit-key="${text.dataset.circuitValue}"]`)?.textContent;
      if (said !== undefined && text.textContent !== said) text.textContent = said;
    }
    // Its name says its value too.
    for (const symbol of circuit.querySelectorAll("svg g.part")) {
      const said = circuit.querySelector(`.connections [data-part="${CSS.escape(symbol.dataset.part)}"]`)?.textContent.trim();
      if (!said || symbol.getAttribute("aria-label") === said) continue;
      symbol.setAttribute("aria-label", said);
      const title = symbol.querySelector("title");
      if (title) title.textContent = said;
    }
  }
}

function startCircuits() {
  for (const circuit of document.querySelectorAll("section.circuit")) {
    const drawing = circuit.querySelector("svg");
    if (!drawing) continue;
    const symbols = [...drawing.querySelectorAll("g.part")];
    for (const [at, symbol] of symbols.entries()) {
      const light = (on) => lightPart(circuit, symbol.dataset, on);
      symbol.addEventListener("pointerenter", () => light(true));
      symbol.addEventListener("pointerleave", () => light(false));
      symbol.addEventListener("focus", () => light(true));
      symbol.addEventListener("blur", () => light(false));
      symbol.addEventListener("keydown", (event) => {
        const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
        if (!step) return;
        event.preventDefault();
        const next = symbols[(at + step + symbols.length) % symbols.length];
        symbol.setAttribute("tabindex", "-1");
        next.setAttribute("tabindex", "0");
        next.focus();
      });
    }
    const save = make("button", { type: "button", class: "save-drawing", "data-live": "save-drawing" }, worded("save_drawing"));
    save.addEventListener("click", () => saveDrawing(drawing));
    circuit.append(save);
  }
}

/** Lights, or darkens again, a part's symbol and the rows that speak of it. */
function lightPart(circuit, { part, value }, on) {
  const name = CSS.escape(part);
  const found = [
    ...circuit.querySelectorAll(`[data-part="${name}"]`),
    ...document.querySelectorAll(`[data-designators~="${name}"]`),
    ...(value ? document.querySelectorAll(rowsOf(value)) : []),
    ...document.querySelectorAll(`[data-uses~="${name}"]`),
  ];
  for (const element of found) element.classList.toggle("lit", on);
}

/** What finds the rows that define a value or read it. */
function rowsOf(value) {
  const name = CSS.escape(value);
  return `tr[data-given="${name}"], [data-name="${name}"], [data-uses~="${name}"]`;
}

function saveDrawing(drawing) {
  const copy = drawing.cloneNode(true);
  copy.setAttribute("color", "#000");
  for (const lit of copy.querySelectorAll(".lit")) lit.classList.remove("lit");
  const name = drawing.getAttribute("aria-label").replace(/[^\p{L}\p{N}]+/gu, "-").toLowerCase();
  download(`${name}.svg`, "image/svg+xml", new XMLSerializer().serializeToString(copy));
}

// A last row in the table of costs, for a number of builds that a reader chooses.
/**
 * To be called once, when the engine is there.
 *
 * @param {(builds: string) => Promise<string[]>} ask What all builds and one of them cost; or one text, what is wrong.
 * @returns {{again: () => void}} To be called when the worksheet has changed.
 */
function startCosts(ask) {
  const rows = [...document.querySelectorAll("[data-costs] tbody")].map((body) => {
    const input = make("input", { type: "text", inputmode: "numeric", maxlength: "9", autocomplete: "off", "aria-label": worded("builds"), value: "25" });
    const [all, one] = [make("td", { class: "right" }), make("td", { class: "right" })];
    body.append(make("tr", { "data-live": "costs" }, make("th", { class: "right", scope: "row" }, input), all, one));
    input.addEventListener("input", again);
    return { input, all, one };
  });
  return { again };

  async function again() {
    for (const { input, all, one } of rows) {
      const typed = input.value;
      const said = await ask(typed).catch((error) => [error.message]);
      if (typed !== input.value) continue;
      input.toggleAttribute("aria-invalid", said.length < 2);
      [all.textContent, one.textContent] = said.length < 2 ? [said[0], ""] : said;
    }
  }
}

// The search of a site: it looks for words in titles, headings, notes, exercises, models and values, and shows where they are.

const KINDS = ["heading", "note", "exercise", "model", "value"].map((key) => worded(key));
const MOST_SHOWN = 60;

function startSearch(indexName) {
  const [form, input, found, results, all] = ["_search", "_query", "_found", "_results", "_all"].map((id) => document.getElementById(id));
  let entries = null;
  form.hidden = false;
  document.getElementById("_still").remove();
  const script = document.createElement("script");
  script.src = indexName;
  script.addEventListener("load", () => {
    entries = entriesOf(self.benchleafIndex);
    fromAddress();
  });
  script.addEventListener("error", () => {
    found.textContent = worded("no_index", { name: indexName });
  });
  document.head.append(script);
  script.remove();

  input.addEventListener("input", look);
  document.addEventListener("keydown", walk);
  addEventListener("hashchange", fromAddress);

  function fromAddress() {
    const [, words] = location.hash.match(/^#q=(.*)$/) ?? [];
    if (words === undefined) return;
    try {
      input.value = decodeURIComponent(words);
    } catch {
      return;
    }
    look();
  }

  function look() {
    const words = plain(input.value).split(/[^\p{L}\p{N}._]+/u).filter(Boolean);
    history.replaceState(history.state, "", words.length ? `#q=${encodeURIComponent(input.value)}` : location.pathname + location.search);
    all.hidden = results.hidden = false;
    if (!words.length || !entries) {
      results.hidden = true;
      results.replaceChildren();
      found.textContent = "";
      return;
    }
    all.hidden = true;
    const matching = entries
      .map((entry) => ({ entry, rank: rankOf(entry, words) }))
      .filter(({ rank }) => rank > 0)
      .sort((one, other) => other.rank - one.rank);
    results.replaceChildren(...matching.slice(0, MOST_SHOWN).map(({ entry }) => shown(entry)));
    const n = matching.length;
    if (n > MOST_SHOWN) found.textContent = worded("first", { n, most: MOST_SHOWN });
    else found.textContent = n === 0 ? worded("nothing") : worded(n === 1 ? "places.one" : "places.other", { n });
  }

  /** From the words to the results, from one result to the next, and back. */
  function walk(event) {
    const links = [...results.querySelectorAll("a")];
    const at = links.indexOf(document.activeElement);
    if (event.key === "Escape" && (at >= 0 || document.activeElement === input)) {
      input.value = "";
      look();
      input.focus();
    } else if (event.key === "ArrowDown" && (at >= 0 || document.activeElement === input)) {
      (links[at + 1] ?? links[at])?.focus();
    } else if (event.key === "ArrowUp" && at >= 0) {
      (links[at - 1] ?? input).focus();
    } else {
      return;
    }
    event.preventDefault();
  }
}

/** Everything that can be found: worksheets first, then the places on them. */
function entriesOf({ pages, places }) {
  const worksheets = pages.map(([href, title, section, summary]) => ({ href, text: title, more: [summary, section].filter(Boolean).join(" "), kind: worded("worksheet"), weight: 6 }));
  const inside = places.map(([kind, page, id, text]) => {
    const [href, title, section] = pages[page];
    return { href: `${href}#${encodeURIComponent(id)}`, text, more: "", where: title, section, kind: KINDS[kind], weight: 5 - kind };
  });
  return [...worksheets, ...inside].map((entry) => ({ ...entry, words: plain(entry.text), around: plain(`${entry.more} ${entry.where ?? ""}`) }));
}

/** 0 where a word is missing; more where words are in the text itself, and where they begin a word of it. */
function rankOf({ words: text, around, weight, where }, wanted) {
  let rank = weight;
  let inText = 0;
  for (const word of wanted) {
    const at = text.indexOf(word);
    if (at >= 0) {
      inText += 1;
      const begins = at === 0 || ` ${text}`.search(new RegExp(`[^\\p{L}\\p{N}]${escaped(word)}`, "u")) >= 0;
      rank += begins ? 20 : 8;
    } else if (around.includes(word)) {
      rank += 1;
    } else {
      return 0;
    }
  }
  return inText || !where ? rank : 0;
}

function shown({ href, text, kind, where }) {
  const item = document.createElement("li");
  const link = document.createElement("a");
  link.href = href;
  link.textContent = text;
  const about = document.createElement("span");
  about.className = "about";
  about.textContent = where ? worded("in", { kind, where }) : kind;
  item.append(link, " ", about);
  return item;
}

/** Lower case, without accents, blanks made one. */
function plain(text) {
  return text.normalize("NFKD").replace(/\p{M}+/gu, "").toLowerCase().replace(/\s+/g, " ").trim();
}

/** A text of the search with values in its placeholders; the words stand before this script. */
function worded(key, values = {}) {
  return WORDS[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
}

function escaped(word) {
  return word.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
}

// The words of the page's script. Those in English are put in before it, from the file that all words of pages stand in; a page
// in another language carries its own.

const ofPage = JSON.parse(document.getElementById("_words")?.textContent ?? "{}");
const scriptWords = { ...WORDS, ...ofPage.script };
/** What the engine is told before each request of a page that is not in English. */
const engineWords = ofPage.engine ? [ofPage.engine] : [];
/** On a page that is not in English, what the engine says in English alone is marked as such. */
const markedEnglish = ofPage.engine ? { lang: "en" } : {};

/** A text with values in its placeholders. */
function worded(key, values = {}) {
  return scriptWords[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
}

/** The same for a number of things. */
function countWorded(key, n, values = {}) {
  return worded(`${key}.${n === 1 ? "one" : "other"}`, { n, ...values });
}

/** Names as a sentence lists them. */
function listWorded(names) {
  return names.length > 1 ? worded("list", { first: names.slice(0, -1).join(", "), last: names.at(-1) }) : names[0];
}

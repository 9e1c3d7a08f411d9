// The grammar for editors, run as editors run it: laid over a grammar of Markdown by `vscode-textmate`, on Oniguruma.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/grammar.js ASKED
//
// ASKED is a file with {"grammar", "sheets": [{"name", "text", "wanted": [[line, start, end, scope], ...], "prose": [line, ...]}]},
// lines from 0, columns in UTF-16 units. Prints what differs: a place that lacks its scope, or prose that is taken for a block.
'use strict';

const fs = require('node:fs');
const { loadWASM, OnigScanner, OnigString } = require('vscode-oniguruma');
const { INITIAL, Registry, parseRawGrammar } = require('vscode-textmate');

const { grammar, sheets } = JSON.parse(fs.readFileSync(process.argv[2], 'utf8'));
const beside = { 'text.html.markdown': 'markdown', 'source.toml': 'toml', 'source.rust': 'rust' };

(async () => {
  await loadWASM(fs.readFileSync(require.resolve('vscode-oniguruma/release/onig.wasm')));
  const registry = new Registry({
    onigLib: Promise.resolve({
      createOnigScanner: (patterns) => new OnigScanner(patterns),
      createOnigString: (text) => new OnigString(text),
    }),
    loadGrammar: async (scope) => {
      if (scope === grammar.scopeName) return parseRawGrammar(JSON.stringify(grammar), 'benchleaf.json');
      const name = beside[scope];
      return name ? parseRawGrammar(fs.readFileSync(require.resolve(`tm-grammars/grammars/${name}.json`), 'utf8'), `${name}.json`) : null;
    },
    getInjections: (scope) => (scope === 'text.html.markdown' ? [grammar.scopeName] : undefined),
  });
  const markdown = await registry.loadGrammar('text.html.markdown');
  const different = [];
  let slowest = 0;
  for (const { name, text, wanted, prose } of sheets) {
    let state = INITIAL;
    const lines = text.split('\n').map((line) => {
      const begun = performance.now();
      const { tokens, ruleStack, stoppedEarly } = markdown.tokenizeLine(line, state);
      slowest = Math.max(slowest, performance.now() - begun);
      if (stoppedEarly) different.push(`${name}: stopped in ${line}`);
      state = ruleStack;
      return { line, tokens };
    });
    for (const [at, start, end, scope] of wanted) {
      const { line, tokens } = lines[at];
      const inside = tokens.filter((token) => token.startIndex < end && token.endIndex > start);
      if (inside.length === 0 || !inside.every((token) => token.scopes.includes(scope))) {
        different.push(`${name}:${at + 1}: ${line.slice(start, end)} lacks ${scope} in ${line}`);
      }
    }
    for (const at of prose) {
      const { line, tokens } = lines[at];
      const taken = tokens.flatMap((token) => token.scopes).find((scope) => /^(comment|keyword|constant\.numeric|string).*\.benchleaf$/.test(scope));
      if (taken) different.push(`${name}:${at + 1}: prose has ${taken} in ${line}`);
    }
  }
  console.log(JSON.stringify({ different, slowest }));
})().catch((error) => {
  console.error(error);
  process.exitCode = 1;
});

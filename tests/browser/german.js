// A reader of a German page changes a value: what follows is German too, and so is what the script says.
//
//   NODE_PATH=$BENCHLEAF_NODE_MODULES node tests/browser/german.js FOLDER
//
// FOLDER holds page.html, with its engine inside, and site/, all of it in German.
'use strict';

const assert = require('node:assert/strict');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const { open } = require('./open.js');
const { isSound } = require('./sound.js');
const { visit, watched } = require('./visit.js');

const [folder] = process.argv.slice(2);
const url = (name) => pathToFileURL(path.join(folder, name)).href;

async function main() {
  const browser = await open();
  try {
    const context = await browser.newContext();
    await change(context);
    await find(context);
  } finally {
    await browser.close();
  }
}

async function change(context) {
  const sheet = await visit(context, url('page.html'));
  const field = (name) => sheet.locator(`tr[data-given="${name}"] input[type=text]`);
  const before = await sheet.locator('main').innerText();
  assert.equal(await sheet.locator('html').getAttribute('lang'), 'de');
  assert.match(await sheet.locator('.masthead .standing').innerText(), /1 Anforderung ist eingehalten/);
  assert.match(await sheet.locator('.now-bar').innerText(), /1 eingehalten/);
  await isSound(sheet, 'at first');

  await field('C_t').fill('68 µF ± 10 %');
  await sheet.locator('.now-bar:has-text("1 verletzt")').waitFor();
  assert.equal(await sheet.locator('.row.keep .verdict').innerText(), 'verletzt');
  assert.match(await sheet.locator('.row.keep .says').innerText(), /^Schon der Nennwert, .+, liegt .+ über der oberen Grenze; im ungünstigsten Fall sind es/);
  assert.match(await sheet.locator('.row.keep .room').innerText(), /^Reserve −.+, im ungünstigsten Fall −/);
  assert.match(await sheet.locator('.masthead .standing').innerText(), /1 Anforderung ist verletzt/);
  assert.match(await sheet.locator('.verdicts-changed').innerText(), /^1 Urteil geändert: .+: eingehalten → verletzt$/);
  assert.match(await sheet.locator('tr[data-given="C_t"] .was').innerText(), /^Wert des Autors: 47.µF.+ zurücksetzen$/);
  assert.match(await sheet.locator('.margin > .moved').first().innerText(), /^vorher /);
  assert.match(await sheet.locator('.now-bar').innerText(), /1 Wert geändert/);
  await isSound(sheet, 'changed');

  // Messages are English still, and marked as such.
  await field('C_t').fill('68 kΩ');
  await sheet.locator('#refused-C_t').waitFor();
  assert.equal(await sheet.locator('#refused-C_t').getAttribute('lang'), 'en');

  await sheet.getByRole('button', { name: 'Alles zurücksetzen' }).click();
  await sheet.locator('.now-bar:has-text("1 eingehalten")').waitFor();
  assert.equal(await sheet.locator('main').innerText(), before);

  // An exercise is marked in German.
  const exercise = sheet.locator('[data-exercise]');
  await exercise.locator('input[name=learner]').fill('Ada');
  await exercise.locator('input[name=answer]').fill('3,5 s');
  await exercise.getByRole('button', { name: 'Prüfen' }).click();
  await exercise.locator('[data-part=said]:has-text("Hier steht der Dezimalpunkt")').waitFor();
  await exercise.getByRole('button', { name: 'Lösung zeigen' }).click();
  await exercise.locator('[data-part=solution] math').first().waitFor();
  assert.deepEqual(sheet.wrong, []);
  await sheet.close();
}

async function find(context) {
  const sheet = await context.newPage();
  const wrong = watched(sheet);
  await sheet.goto(url('site/search.html'));
  assert.equal(await sheet.locator('html').getAttribute('lang'), 'de');
  await sheet.getByLabel('Suchwörter').fill('Schlauch');
  await sheet.locator('#_found:has-text("Stelle")').waitFor();
  await isSound(sheet, 'search');
  await sheet.getByLabel('Suchwörter').fill('gibtesnicht');
  await sheet.locator('#_found:has-text("Nichts gefunden.")').waitFor();
  await sheet.goto(url('site/exercises.html'));
  assert.equal(await sheet.locator('h1').innerText(), 'Alle Aufgaben');
  assert.deepEqual(wrong, []);
  await sheet.close();
}

main().catch((error) => {
  console.error(error);
  process.exit(1);
});

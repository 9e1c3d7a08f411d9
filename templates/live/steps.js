// Steps of a build: which are done and what was read stays in this browser, by page and step; readings are judged by the engine.
/**
 * To be called once, when the engine is there.
 *
 * @param {(readings: [string, string][]) => Promise<{word: string, message: string, bar: string}[]>} judge
 *   Says of each reading, a value's name and what was typed, whether a sound build can show it. `message` and `bar` are HTML
 *   that the engine made.
 * @returns {{again: () => void}} To be called when the worksheet has changed.
 */
function startSteps(judge) {
  const kept = keeper();
  const steps = [...document.querySelectorAll('[data-step]')];
  if (!steps.length) return { again() {} };
  const ticks = steps.map((step) => {
    const box = step.querySelector('[data-tick]');
    const name = `step ${step.dataset.step}`;
    box.checked = kept.get(name) === 'done';
    box.addEventListener('change', () => {
      kept.set(name, box.checked ? 'done' : '');
      count();
    });
    return { box, name };
  });
  const points = steps.flatMap((step) =>
    [...step.querySelectorAll('[data-reading]')].map((place) => new TestPointField(place, step.dataset.step, kept, again)),
  );
  const heads = [...document.querySelectorAll('.building > .row > .margin')].map((margin) => {
    const done = make('p', { 'data-live': 'done', role: 'status' });
    const clear = make('button', { type: 'button', 'data-live': 'clear' }, worded('clear_ticks'));
    clear.addEventListener('click', () => {
      kept.clear([...ticks, ...points].map(({ name }) => name));
      for (const { box } of ticks) box.checked = false;
      for (const point of points) point.clear();
      count();
    });
    margin.append(done, clear);
    return { done, clear };
  });
  let latest = 0;
  count();
  return { again };

  function count() {
    const done = ticks.filter(({ box }) => box.checked).length;
    for (const step of steps) step.toggleAttribute('data-live-done', step.querySelector('[data-tick]').checked);
    for (const head of heads) {
      head.done.textContent = worded('done', { done, all: ticks.length });
      head.clear.hidden = done === 0 && points.every((point) => point.typed === '');
    }
  }

  /** Judges all readings; an answer that another has overtaken is dropped. */
  async function again() {
    count();
    const mine = (latest += 1);
    const read = points.filter((point) => point.typed !== '');
    if (!read.length) return;
    try {
      const said = await judge(read.map((point) => [point.value, point.typed]));
      if (mine === latest) read.forEach((point, i) => point.say(said[i]));
    } catch (error) {
      if (mine === latest) for (const point of read) point.say({ word: 'trouble', message: '', bar: '' }, error.message);
    }
  }
}

/** The field of a test point, and below it what the reading says. */
class TestPointField {
  constructor(place, step, kept, changed) {
    this.value = place.dataset.reading;
    this.name = `reading ${step} / ${this.value} / ${place.dataset.at}`;
    this.row = place.closest('.test-point');
    this.input = make('input', { type: 'text', 'data-live': 'reading', autocomplete: 'off', autocapitalize: 'off', spellcheck: 'false', maxlength: '80', 'aria-label': worded('reading_of', { name: this.value, at: place.dataset.at }) });
    this.input.value = kept.get(this.name) ?? '';
    this.input.addEventListener('change', () => {
      kept.set(this.name, this.typed);
      if (this.typed === '') this.say();
      changed();
    });
    this.said = make('div', { class: 'judged', role: 'status', 'data-live': 'judged' });
    place.append(this.input);
    place.after(this.said);
  }

  get typed() {
    return this.input.value.trim();
  }

  clear() {
    this.input.value = '';
    this.say();
  }

  say({ word = '', message = '', bar = '' } = {}, trouble = '') {
    this.said.dataset.word = word;
    this.said.innerHTML = message;
    this.said.append(trouble);
    this.row.querySelector('.margin > [data-live="bar"]')?.remove();
    if (!bar) return;
    const drawn = make('div', { 'data-live': 'bar' });
    drawn.innerHTML = bar;
    this.row.querySelector('.margin').prepend(drawn);
  }
}

// Brings the exercises of a page to life: the question with a learner's own numbers, feedback to an answer, the worked
// solution, and progress that stays in this browser. What is right is asked of the engine, answer by answer.
/**
 * To be called once, when the engine is there; until then the forms stay hidden.
 *
 * @param {(attempt: {exercise: string, learner: string, answer: ?string, givesUp: boolean}) => Promise<{
 *   inlines: [number, string][], word: string, message: string, points: number, of: number, solution: string}>} ask
 *   Puts an attempt to the engine. `message`, `solution` and the inline results of the question are HTML that the engine
 *   made; without an answer `word` is empty. It fails with an Error whose message a learner can read.
 */
function startExercises(ask) {
  const kept = keeper();
  const exercises = [...document.querySelectorAll('[data-exercise]')].map((section) => exercise(section, ask, kept));
  const learnerChanged = (learner) => {
    kept.set('learner', learner);
    for (const each of exercises) each.setLearner(learner);
  };
  const cleared = () => {
    kept.clear(['learner', ...exercises.map(({ name }) => name)]);
    for (const each of exercises) each.clear();
  };
  for (const each of exercises) each.start(learnerChanged, cleared);
}

function exercise(section, ask, kept) {
  const name = section.dataset.exercise;
  const varies = section.dataset.varies !== undefined;
  const part = (wanted) => section.querySelector(`[data-part="${wanted}"]`);
  const form = part('form');
  const { learner, answer, line } = form.elements;
  const button = (wanted) => form.querySelector(`[data-do="${wanted}"]`);
  let latest = 0;

  /** Shows what the engine says; an attempt that another has overtaken is dropped. */
  const put = async (attempt) => {
    const mine = (latest += 1);
    try {
      const reply = await ask({ exercise: name, learner: learner.value.trim(), answer: null, givesUp: false, ...attempt });
      if (mine !== latest) return;
      for (const [number, html] of reply.inlines) {
        const inline = section.querySelector(`[data-inline="${number}"]`);
        if (inline) patch(inline, elementsOf(html)[0]);
      }
      say(reply.word, reply.message, reply.word === 'right' ? ` ${earned(reply.points, reply.of)}` : '');
      show(part('solution'), reply.solution);
      button('solution').hidden = Boolean(reply.solution);
    } catch (error) {
      if (mine === latest) say('trouble', '', error.message);
    }
  };

  const say = (word, html, text) => {
    const said = part('said');
    said.dataset.word = word;
    said.innerHTML = html;
    said.append(text);
  };

  /** Whether the numbers of the question are the learner's. */
  const isSet = () => {
    if (!varies || learner.value.trim() !== '') return true;
    say('trouble', '', worded('name_first'));
    learner.focus();
    return false;
  };

  const keep = (record) => {
    kept.set(name, JSON.stringify({ ...record, learner: learner.value.trim() }));
    toHandIn();
  };

  /** What has been answered, as a line of a table. */
  const toHandIn = () => {
    const answered = answer.value.trim() !== '';
    part('hand-in').hidden = !answered;
    button('clear').hidden = false;
    line.value = answered ? [learner.value.trim(), name, answer.value.trim()].map(cell).join(',') : '';
  };

  const check = () => {
    if (!isSet()) return;
    keep({ answer: answer.value });
    put({ answer: answer.value });
  };

  const giveUp = () => {
    if (!isSet()) return;
    keep({ answer: answer.value, gaveUp: true });
    put({ answer: answer.value.trim() === '' ? null : answer.value, givesUp: true });
  };

  const copy = async () => {
    line.select();
    try {
      await navigator.clipboard.writeText(line.value);
    } catch {
      document.execCommand('copy');
    }
  };

  return {
    name,

    start(learnerChanged, cleared) {
      learner.value = kept.get('learner') ?? '';
      let record = {};
      try {
        record = JSON.parse(kept.get(name) ?? '{}') ?? {};
      } catch {
        // Something else wrote there.
      }
      form.hidden = false;
      form.addEventListener('submit', (event) => {
        event.preventDefault();
        check();
      });
      learner.addEventListener('change', () => learnerChanged(learner.value.trim()));
      button('solution').addEventListener('click', giveUp);
      button('clear').addEventListener('click', cleared);
      button('copy').addEventListener('click', copy);
      const mine = record.learner === learner.value || !varies;
      if (typeof record.answer === 'string' && mine) {
        answer.value = record.answer;
        toHandIn();
        put({ answer: record.answer.trim() === '' ? null : record.answer, givesUp: record.gaveUp === true });
      } else if (varies && learner.value !== '') {
        put({});
      }
    },

    setLearner(typed) {
      learner.value = typed;
      if (varies) put({});
      if (answer.value !== '') toHandIn();
    },

    clear() {
      learner.value = '';
      answer.value = '';
      part('hand-in').hidden = true;
      button('clear').hidden = true;
      // At once; the engine may take its time.
      say('', '', '');
      show(part('solution'), '');
      put({});
    },
  };
}

function show(element, html) {
  element.innerHTML = html;
  element.hidden = html === '';
}

function earned(points, of) {
  return countWorded('earned', of, { points });
}

/** A cell of a table: quoted where it must be, and with an apostrophe where a spreadsheet would run it. */
function cell(text) {
  const safe = /^\s*[=+\-@＝＋－＠]/.test(text) ? `'${text}` : text;
  return /[",;\t\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** What this browser keeps of this page; nothing where it keeps nothing. */
function keeper() {
  const key = (name) => `benchleaf ${location.pathname} ${name}`;
  const attempt = (work) => {
    try {
      return work();
    } catch {
      return null;
    }
  };
  return {
    get: (name) => attempt(() => localStorage.getItem(key(name))),
    set: (name, text) => attempt(() => localStorage.setItem(key(name), text)),
    clear: (names) => names.forEach((name) => attempt(() => localStorage.removeItem(key(name)))),
  };
}

// Works out after each reading, keeps what was typed on this device, and sends the day to the site log. Without it the
// button works out.
'use strict';
(() => {
  const $ = id => document.getElementById(id);
  const form = $('test');
  const readings = $('readings');
  const KEY = 'windtight-test';
  let timer = 0;
  let asked = 0;

  form.querySelector('.quick').hidden = false;
  $('next-near').hidden = false;
  if ($('keep')) $('keep').hidden = false;
  $('work-out').hidden = true;
  try {
    const kept = JSON.parse(localStorage.getItem(KEY) || 'null');
    if (kept && !readings.value) for (const [key, value] of Object.entries(kept)) if (form.elements[key]) form.elements[key].value = value;
  } catch { /* nothing kept */ }

  const values = () => Object.fromEntries(['direction', 'unit', 'inside', 'outside', 'highest', 'readings'].map(k => [k, form.elements[k].value]));

  async function workOut() {
    try { localStorage.setItem(KEY, JSON.stringify(values())); } catch { /* not kept */ }
    if (!readings.value.trim()) return;
    const mine = ++asked;
    try {
      const state = await (await fetch('state')).json();
      const answer = await fetch('test-day/evaluate', {
        method: 'POST', body: new URLSearchParams(values()), headers: { 'x-windtight-token': state.token },
      });
      if (mine !== asked || !answer.ok) return;
      const told = await answer.json();
      const page = new DOMParser().parseFromString(told.html, 'text/html');
      $('next-near').textContent = told.next + (told.number ? ' · ' + told.number : '');
      $('now').replaceChildren(...page.body.childNodes);
      if ($('told').dataset.gone) { $('told').textContent = ''; delete $('told').dataset.gone; }
    } catch {
      $('told').textContent = 'No connection: the readings are kept on this device and worked out when it is back.';
      $('told').dataset.gone = 'yes';
    }
  }

  function add(line) {
    readings.value = readings.value.replace(/\n*$/, readings.value.trim() ? '\n' : '') + line + '\n';
    readings.scrollTop = readings.scrollHeight;
    workOut();
  }

  form.addEventListener('input', event => {
    if (event.target.id.startsWith('q-')) return;
    clearTimeout(timer);
    timer = setTimeout(workOut, 300);
  });
  form.addEventListener('submit', event => { event.preventDefault(); workOut(); });
  const pressure = $('q-pressure');
  const flow = $('q-flow');
  const number = field => field.value.trim().replace(',', '.').replace('−', '-');
  $('q-add').addEventListener('click', () => {
    if (!number(pressure) || !number(flow)) { (number(pressure) ? flow : pressure).focus(); return; }
    add(number(pressure) + ' ' + number(flow));
    pressure.value = flow.value = '';
    pressure.focus();
  });
  $('q-zero').addEventListener('click', () => {
    if (!number(pressure)) { $('told').textContent = 'Type the pressure with the fan covered first.'; pressure.focus(); return; }
    add('zero ' + number(pressure));
    pressure.value = '';
    pressure.focus();
  });
  $('q-turn').addEventListener('click', () => add('turn'));
  pressure.addEventListener('keydown', e => { if (e.key === 'Enter') { e.preventDefault(); flow.focus(); } });
  flow.addEventListener('keydown', e => { if (e.key === 'Enter') { e.preventDefault(); $('q-add').click(); } });

  $('keep')?.addEventListener('click', async () => {
    const record = {
      id: crypto.randomUUID(), 'client-time': Queue.now(), kind: 'pressure-test', name: '', place: '',
      stage: '', note: '', fields: values(),
    };
    try { record.name = localStorage.getItem('windtight-who') || ''; } catch { /* no name kept */ }
    await Queue.add(record, []);
    $('told').textContent = 'Kept on this device; sending.';
  });
  document.addEventListener('queue', event => {
    const { kept, words, gone } = event.detail;
    if (kept || words) $('told').textContent = words;
    else if (gone) $('told').textContent = 'No connection: kept on this device, sent when it is back.';
  });
  document.addEventListener('changed', event => { if (!event.detail.running) workOut(); });
  workOut();
})();

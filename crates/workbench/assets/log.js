// Photo first, one tap for the place, saved on the phone at once and sent when it can be. Also sends a record's form
// the same way. Without it records are written by the form alone.
'use strict';
(() => {
  const $ = id => document.getElementById(id);
  const remember = (key, value) => { try { localStorage.setItem('windtight-' + key, value); } catch { /* not kept */ } };
  const remembered = key => { try { return localStorage.getItem('windtight-' + key) || ''; } catch { return ''; } };
  navigator.serviceWorker?.register('sw.js').catch(() => { /* pages then need the connection; the queue does not */ });

  function element(name, attributes, ...children) {
    const e = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) {
      if (key === 'on') e.addEventListener('click', value); else e.setAttribute(key, value);
    }
    e.append(...children);
    return e;
  }
  function say(words) { const told = $('told'); if (told) told.textContent = words; }

  function lastPlaces() {
    try { return JSON.parse(remembered('places')) || []; } catch { return []; }
  }
  function usePlace(place) {
    if (!place) return;
    remember('places', JSON.stringify([place, ...lastPlaces().filter(p => p !== place)].slice(0, 5)));
  }

  // ── the photo ──
  const photo = $('photo');
  if (photo) {
    let file = null;
    let address = '';
    const who = $('who');
    who.value = remembered('who');
    who.addEventListener('change', () => remember('who', who.value.trim()));

    function places() {
      // The address of a sign on site may name the place it hangs at.
      const here = new URLSearchParams(location.search).get('place');
      const list = [...new Set([here, ...lastPlaces()].filter(Boolean))];
      $('places').replaceChildren(
        ...list.map(place => element('button', { type: 'button', on: () => keep(place) }, place)),
        element('button', { type: 'button', class: 'second', on: () => keep('') }, 'Say the place later'),
      );
    }

    photo.addEventListener('change', () => {
      file = photo.files[0] || null;
      if (!file) return;
      if (address) URL.revokeObjectURL(address);
      address = URL.createObjectURL(file);
      $('preview').src = address;
      places();
      $('placing').hidden = false;
      $('places').querySelector('button')?.focus();
      say('');
    });

    async function keep(place) {
      if (!file) return;
      const taken = file;
      file = null;
      $('placing').hidden = true;
      photo.value = '';
      usePlace(place);
      const record = {
        id: crypto.randomUUID(), 'client-time': Queue.now(), kind: 'photo', name: who.value.trim(), place, fields: {},
      };
      try {
        await Queue.add(record, [{ blob: taken, name: taken.name, caption: '' }]);
        say('Saved on this phone; sending.');
      } catch (error) {
        say('This browser could not keep the photo: ' + error + '. Save it in the camera and try again.');
      }
    }
    $('place-save').addEventListener('click', () => keep($('place').value.trim()));
    $('again').addEventListener('click', () => { file = null; photo.value = ''; $('placing').hidden = true; });
  }

  // ── the form of a record ──
  const form = $('record');
  if (form) {
    for (const hidden of form.querySelectorAll('.script-only')) hidden.hidden = false;
    if (!form.elements.name.value) form.elements.name.value = remembered('who');
    mend();

    form.addEventListener('submit', async event => {
      event.preventDefault();
      const fields = {};
      for (const [key, value] of new FormData(form)) {
        if (key.startsWith('f-') && typeof value === 'string' && value.trim()) fields[key.slice(2)] = value;
      }
      const of = key => form.elements[key]?.value.trim() || '';
      remember('who', of('name'));
      usePlace(of('place'));
      const record = {
        id: crypto.randomUUID(), 'client-time': Queue.now(), kind: form.dataset.kind, name: of('name'), place: of('place'),
        stage: of('stage'), note: of('note'), corrects: of('corrects'), instrument: of('instrument'),
        calibrated: of('calibrated'), uncertainty: of('uncertainty'), fields,
      };
      const files = [...form.elements.files.files].map(f => ({ blob: f, name: f.name, caption: '' }));
      const old = location.hash.slice(1);
      const held = old ? await Queue.get(old) : null;
      try {
        await Queue.add(record, [...(held ? held.files : []), ...files]);
        if (held) await Queue.remove(old);
        location.href = 'log#waiting';
      } catch (error) {
        say('This browser could not keep the record: ' + error);
      }
    });

    /// Fills in a record that was refused, so that only what is wrong is typed again.
    async function mend() {
      const held = location.hash.length > 1 ? await Queue.get(location.hash.slice(1)) : null;
      if (!held) return;
      for (const key of ['name', 'place', 'stage', 'note', 'corrects', 'instrument', 'calibrated', 'uncertainty']) {
        if (form.elements[key] && held.record[key]) form.elements[key].value = held.record[key];
      }
      for (const [key, value] of Object.entries(held.record.fields)) {
        const field = form.elements['f-' + key];
        if (!field) continue;
        if (field.type === 'checkbox') field.checked = true; else field.value = value;
      }
      say(held.refused);
    }
  }

  // ── what only this phone has ──
  const waiting = $('waiting');
  async function show() {
    if (!waiting) return;
    let list = [];
    try { list = await Queue.all(); } catch (error) { say('This browser keeps nothing for pages: ' + error); return; }
    waiting.hidden = list.length === 0;
    $('queue').replaceChildren(...list.map(item => {
      const what = item.record.kind.replace(/-/g, ' ') + (item.record.place ? ', ' + item.record.place : '');
      const li = element('li', { 'data-id': item.id }, element('b', {}, what), ' ', item.record['client-time'].slice(11, 16));
      if (item.files.length) li.append(' ', item.files.length === 1 ? 'with a photo' : 'with ' + item.files.length + ' files');
      if (item.refused) {
        li.append(element('p', { class: 'act' }, 'Not taken: ' + item.refused),
          element('a', { class: 'button second', href: 'record?kind=' + item.record.kind + '#' + item.id }, 'Mend it'));
      }
      return li;
    }));
  }
  document.addEventListener('queue', async event => {
    await show();
    const { kept, words, gone } = event.detail;
    if (kept) {
      say(words);
      // The list on the page is now an old one.
      if (waiting && waiting.hidden) await fresh();
    } else if (gone) say('No connection: kept on this phone, sent when it is back.');
    else if (words) say(words);
  });
  async function fresh() {
    try {
      const answer = await fetch('log');
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
      for (const selector of ['ol.records', '#records', 'section[aria-label="To be completed"]']) {
        const [old, now] = [document.querySelector(selector), page.querySelector(selector)];
        if (old && now) old.replaceWith(now);
        else if (now) document.querySelector('#records').before(now);
        else if (old) old.remove();
      }
    } catch { /* the old list stays */ }
  }
  $('send')?.addEventListener('click', () => Queue.send());
  $('export')?.addEventListener('click', async () => {
    const link = element('a', { href: URL.createObjectURL(await Queue.file()), download: 'site-log-waiting.jsonl' });
    link.click();
  });
  show();
  Queue.send();
})();

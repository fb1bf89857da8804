// The records that only this device has. Each stays in the browser's own store until the server says that it is on the
// disk; sending twice is harmless, since the record carries an id made here.
'use strict';
const Queue = (() => {
  const NAME = 'windtight-log';
  let opening = null;
  let sending = false;

  function open() {
    opening ??= new Promise((done, fail) => {
      const ask = indexedDB.open(NAME, 1);
      ask.onupgradeneeded = () => ask.result.createObjectStore('waiting', { keyPath: 'id' });
      ask.onsuccess = () => done(ask.result);
      ask.onerror = () => { opening = null; fail(ask.error); };
    });
    return opening;
  }

  async function store(mode, work) {
    const db = await open();
    return new Promise((done, fail) => {
      const change = db.transaction('waiting', mode, { durability: 'strict' });
      const ask = work(change.objectStore('waiting'));
      change.oncomplete = () => done(ask.result);
      change.onerror = change.onabort = () => fail(change.error);
    });
  }

  const all = async () => {
    const list = await store('readonly', s => s.getAll());
    return list.sort((a, b) => a.added - b.added);
  };
  const put = item => store('readwrite', s => s.put(item));
  const get = id => store('readonly', s => s.get(id));
  const remove = id => store('readwrite', s => s.delete(id));

  /// Time here, with offset, as the log writes it.
  function now() {
    const t = new Date();
    const two = n => String(Math.trunc(Math.abs(n))).padStart(2, '0');
    const off = -t.getTimezoneOffset();
    return `${t.getFullYear()}-${two(t.getMonth() + 1)}-${two(t.getDate())}T${two(t.getHours())}:${two(t.getMinutes())}:` +
      `${two(t.getSeconds())}${off < 0 ? '-' : '+'}${two(off / 60)}:${two(off % 60)}`;
  }

  /// Takes a record in. `files` are { blob, name, caption }.
  async function add(record, files) {
    // Asked once there is something to lose; a browser that says no keeps it all the same while it has room.
    navigator.storage?.persist?.();
    // Bytes, not a handle on the camera's file, which may be gone later.
    const kept = [];
    for (const file of files) kept.push({ ...file, blob: new Blob([await file.blob.arrayBuffer()], { type: file.blob.type }) });
    const item = { id: record.id, record, files: kept, added: Date.now(), refused: '' };
    await put(item);
    told();
    send();
    return item;
  }

  function told(detail = {}) { document.dispatchEvent(new CustomEvent('queue', { detail })); }

  /// A fresh token: the page may be an old one from the device's own store.
  async function token() {
    const answer = await fetch('state');
    if (!answer.ok) throw new Error('no session');
    return (await answer.json()).token;
  }

  async function one(item, key) {
    const attachments = [];
    for (const file of item.files) {
      const answer = await fetch('photo', {
        method: 'POST',
        headers: {
          'x-windtight-token': key,
          'content-type': 'application/octet-stream',
          'x-file-name': encodeURIComponent(file.name || ''),
          'x-caption': encodeURIComponent(file.caption || ''),
        },
        body: file.blob,
      });
      if (!answer.ok) return refusal(answer);
      attachments.push(await answer.json());
    }
    const record = { ...item.record, attachments: [...(item.record.attachments || []), ...attachments] };
    const answer = await fetch('record/take', {
      method: 'POST',
      headers: { 'x-windtight-token': key, 'content-type': 'application/json' },
      body: JSON.stringify(record),
    });
    if (!answer.ok) return refusal(answer);
    return { kept: await answer.json() };
  }

  async function refusal(answer) {
    // What the server cannot do now, it may do later; what it does not understand, a person mends.
    const later = answer.status >= 500 || answer.status === 401 || answer.status === 429;
    let words = 'The server answered ' + answer.status + '.';
    try { words = (await answer.json()).words || words; } catch { /* a page, not a script's answer */ }
    return { later, words };
  }

  /// Sends what waits, oldest first; stops at the first that does not get through.
  async function send() {
    if (sending) return;
    sending = true;
    try {
      const list = (await all()).filter(item => !item.refused);
      if (!list.length) return;
      const key = await token();
      for (const item of list) {
        const came = await one(item, key);
        if (came.kept) {
          await remove(item.id);
          told({ kept: item, words: came.kept.words });
        } else if (came.later) {
          told({ words: came.words });
          return;
        } else {
          await put({ ...item, refused: came.words });
          told({ words: came.words });
        }
      }
    } catch {
      told({ gone: true });
    } finally {
      sending = false;
    }
  }

  /// Everything that waits as one file: a line of JSON a record, its photos as base64 in it.
  async function file() {
    const lines = [];
    for (const item of await all()) {
      const files = [];
      for (const f of item.files) files.push({ name: f.name, caption: f.caption, type: f.blob.type, base64: await base64(f.blob) });
      lines.push(JSON.stringify({ record: item.record, files }));
    }
    return new Blob([lines.join('\n') + '\n'], { type: 'application/jsonl' });
  }

  async function base64(blob) {
    const bytes = new Uint8Array(await blob.arrayBuffer());
    let text = '';
    for (let i = 0; i < bytes.length; i += 0x8000) text += String.fromCharCode(...bytes.subarray(i, i + 0x8000));
    return btoa(text);
  }

  window.addEventListener('online', send);
  document.addEventListener('state', send);
  setInterval(send, 5000);
  return { add, all, get, put, remove, send, file, now };
})();

// Numbers the lines, marks errors while one types, leads from a problem to its line, and asks before unsaved words are
// lost. Without it the book is still edited and saved; problems are then shown after saving.
'use strict';
(() => {
  const form = document.getElementById('book');
  const text = document.getElementById('text');
  const lines = document.getElementById('lines');
  const problems = document.getElementById('problems');
  const said = document.getElementById('said');
  if (!form || !text || !lines || !problems) return;
  let saved = text.value;
  let asked = 0;
  let timer = 0;

  function number() {
    const wrong = new Set([...problems.querySelectorAll('.where a')].map(a => Number(a.dataset.line)));
    const count = text.value.split('\n').length;
    const part = document.createDocumentFragment();
    for (let n = 1; n <= count; n++) {
      if (wrong.has(n)) {
        const b = document.createElement('b');
        b.textContent = n;
        part.append(b, '\n');
      } else part.append(n + '\n');
    }
    lines.replaceChildren(part);
    lines.scrollTop = text.scrollTop;
  }

  function put(parent, html) {
    const page = new DOMParser().parseFromString(html, 'text/html');
    parent.replaceChildren(...page.body.childNodes);
  }

  async function check() {
    const mine = ++asked;
    const body = new URLSearchParams({ text: text.value });
    const token = document.querySelector('meta[name=token]').content;
    try {
      const answer = await fetch('book/check', { method: 'POST', body, headers: { 'x-windtight-token': token } });
      if (mine !== asked || !answer.ok) return;
      put(problems, await answer.text());
      number();
    } catch {
      said.textContent = 'The connection is gone; what you type is not checked.';
    }
  }

  function go(line, column) {
    const all = text.value.split('\n');
    let at = 0;
    for (let n = 0; n < line - 1 && n < all.length; n++) at += all[n].length + 1;
    text.focus();
    // The caret goes to the place; the whole line is chosen so that it can be seen.
    text.setSelectionRange(at, at + (all[line - 1] || '').length);
    text.scrollTop = Math.max(0, (line - 1) * 20 - text.clientHeight / 2);
    text.scrollLeft = 0;
  }

  text.addEventListener('scroll', () => { lines.scrollTop = text.scrollTop; });
  text.addEventListener('input', () => {
    number();
    said.textContent = text.value === saved ? '' : 'Not saved yet.';
    clearTimeout(timer);
    timer = setTimeout(check, 500);
  });
  document.addEventListener('click', event => {
    const link = event.target.closest('a[data-line]');
    if (!link) return;
    event.preventDefault();
    go(Number(link.dataset.line), Number(link.dataset.column));
  });
  document.addEventListener('keydown', event => {
    if ((event.ctrlKey || event.metaKey) && event.key === 's') {
      event.preventDefault();
      if (document.getElementById('save')) form.requestSubmit();
    }
  });
  form.addEventListener('submit', () => { saved = text.value; });
  window.addEventListener('beforeunload', event => {
    if (text.value !== saved) event.preventDefault();
  });
  // When the results of a save are in, the page's own account of them is taken anew; the text stays as it is.
  document.addEventListener('changed', async event => {
    if (event.detail.running || text.value !== saved) return;
    const answer = await fetch('book');
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
    for (const id of ['problems', 'changes']) {
      const fresh = page.getElementById(id);
      if (fresh) document.getElementById(id).replaceChildren(...fresh.childNodes);
    }
    if (page.getElementById('text').value !== text.value) {
      said.textContent = 'The book in the folder is another now: load the page again before you go on.';
    }
    number();
  });
  number();
})();

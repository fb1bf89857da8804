// Asks every other second how fresh the page is, says so above the sheet, and takes fresh results in where nothing is
// being typed. Without it the page is whole, and loading it again does the same.
'use strict';
(() => {
  const bench = document.getElementById('bench');
  if (!bench) return;
  let shown = bench.dataset.generation;
  let wait = 2000;

  function settle(main) {
    // What the sheet's own script does when a page loads.
    for (const line of main.querySelectorAll('.stages')) {
      const now = line.querySelector('.now');
      if (now) line.scrollLeft = now.offsetLeft - line.offsetLeft - (line.clientWidth - now.offsetWidth) / 2;
    }
  }

  async function take() {
    const answer = await fetch(location.href, { headers: { accept: 'text/html' } });
    if (!answer.ok) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), 'text/html');
    const open = [...document.querySelectorAll('main details[open][id]')].map(d => d.id);
    const at = window.scrollY;
    const main = document.querySelector('main');
    const next = fresh.querySelector('main');
    const block = fresh.querySelector('footer.block');
    if (!main || !next) return;
    main.replaceWith(next);
    if (block) document.querySelector('footer.block')?.replaceWith(block);
    document.title = fresh.title;
    for (const id of open) { const d = document.getElementById(id); if (d) d.open = true; }
    settle(next);
    window.scrollTo(0, at);
    document.dispatchEvent(new CustomEvent('fresh'));
  }

  async function look() {
    try {
      const answer = await fetch('state');
      if (answer.ok) {
        const state = await answer.json();
        const line = document.getElementById('state');
        if (line && line.textContent !== state.words) line.textContent = state.words;
        line?.classList.toggle('stale', state.stale || state.errors > 0);
        document.dispatchEvent(new CustomEvent('state', { detail: state }));
        if (String(state.generation) !== shown) {
          shown = String(state.generation);
          if ('live' in bench.dataset) await take();
          document.dispatchEvent(new CustomEvent('changed', { detail: state }));
        }
        wait = state.running ? 700 : 2000;
      } else if (answer.status === 401) {
        say('Windtight was started anew: open the address it printed.');
        wait = 10000;
      }
    } catch {
      say('The connection to Windtight is gone. What is shown is the last that came.');
      document.dispatchEvent(new CustomEvent('gone'));
      wait = 3000;
    }
    setTimeout(look, wait);
  }

  function say(words) {
    const line = document.getElementById('state');
    if (line) { line.textContent = words; line.classList.add('stale'); }
  }
  setTimeout(look, 600);
})();

// Looks at a page for what keeps people out: names, labels, contrast, focus, size, order. Returns one complaint a line.
(() => {
  const out = [];
  const phone = WIDTH < 700;
  const say = (what, e) => out.push(what + (e ? ': <' + e.tagName.toLowerCase() + '> ' + (e.id || (e.textContent || '').trim().slice(0, 40)) : ''));
  for (const d of document.querySelectorAll('details')) d.open = true;
  const seen = e => e.getClientRects().length > 0 && !e.closest('.unseen,.skip') && getComputedStyle(e).visibility !== 'hidden';

  if (!document.documentElement.lang) say('the page has no language');
  if (!document.title) say('the page has no title');
  if (document.querySelectorAll('main').length !== 1) say('not one main part');
  const ids = new Map();
  for (const e of document.querySelectorAll('[id]')) ids.set(e.id, (ids.get(e.id) || 0) + 1);
  for (const [id, n] of ids) if (n > 1) say('the id ' + id + ' stands ' + n + ' times');

  let level = 0;
  const heads = [...document.querySelectorAll('main h1, main h2, main h3, main h4')].filter(seen);
  if (heads.filter(h => h.tagName === 'H1').length !== 1) say('not one first heading');
  for (const h of heads) {
    const n = Number(h.tagName[1]);
    if (n > level + 1) say('a heading skips a level', h);
    level = n;
  }

  const name = e => (e.getAttribute('aria-label') || (e.getAttribute('aria-labelledby') || '').split(' ').map(i => document.getElementById(i)?.textContent || '').join(' ') ||
    (e.labels && [...e.labels].map(l => l.textContent).join(' ')) || e.textContent || e.getAttribute('title') || '').trim();
  for (const e of document.querySelectorAll('a[href], button, summary, input:not([type=hidden]), select, textarea, [role=button], [role=region], [role=img]')) {
    if (!seen(e)) continue;
    const own = e.closest('svg') ? (e.getAttribute('aria-label') || e.querySelector('title')?.textContent || e.textContent).trim() : name(e);
    if (!own) say('no name', e);
    if (e.tabIndex > 0) say('an order of its own', e);
  }
  for (const e of document.querySelectorAll('img')) if (!e.hasAttribute('alt')) say('a picture without words', e);
  for (const e of document.querySelectorAll('svg.drawing')) if (!e.getAttribute('aria-label') && !e.querySelector('title') && !e.getAttribute('aria-labelledby')) say('a drawing without words', e);
  for (const key of ['aria-describedby', 'aria-labelledby', 'list', 'for']) {
    for (const e of document.querySelectorAll('[' + key + ']')) {
      for (const id of e.getAttribute(key).split(' ')) if (!document.getElementById(id)) say(key + ' leads nowhere', e);
    }
  }

  // Contrast of words by WCAG 2.2, relative luminance of sRGB.
  const rgb = text => (text.match(/[\d.]+/g) || []).map(Number);
  const luminance = ([r, g, b]) => {
    const c = [r, g, b].map(v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
    return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
  };
  const ground = e => {
    for (; e; e = e.parentElement) {
      const c = rgb(getComputedStyle(e).backgroundColor);
      if (c.length === 3 || c[3] > 0.99) return c;
    }
    return [255, 255, 255];
  };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const e = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || !e || !seen(e) || e.closest('svg') || ['SCRIPT', 'STYLE', 'OPTION', 'NOSCRIPT'].includes(e.tagName)) continue;
    const style = getComputedStyle(e);
    const [a, b] = [luminance(rgb(style.color)) + 0.05, luminance(ground(e)) + 0.05];
    const ratio = Math.max(a, b) / Math.min(a, b);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    if (ratio < (large ? 3 : 4.5) - 0.01 && !e.disabled) say('contrast ' + ratio.toFixed(2), e);
    if (phone && size < 12.95) say('small words ' + size.toFixed(1), e);
  }

  // Focus can be seen.
  for (const e of document.querySelectorAll('a[href], button, summary, input:not([type=hidden]):not([type=file]), select, textarea')) {
    if (!seen(e) || e.closest('svg') || e.disabled) continue;
    e.focus({ focusVisible: true, preventScroll: true });
    if (document.activeElement !== e) { say('cannot be reached', e); continue; }
    const marked = x => { const s = getComputedStyle(x); return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2; };
    if (!marked(e) && !(e.parentElement && marked(e.parentElement)) && !(e.nextElementSibling && marked(e.nextElementSibling))) say('focus is not seen', e);
  }
  document.activeElement?.blur();

  if (document.documentElement.scrollWidth > WIDTH + 1) {
    say('the page is ' + document.documentElement.scrollWidth + ' wide in ' + WIDTH);
    for (const e of document.querySelectorAll('body *')) if (e.getBoundingClientRect().right > WIDTH + 1 && !e.closest('.pan,.wide,.stages,.editor,.picture,.unseen')) say('  runs out', e);
  }
  if (phone) {
    for (const e of document.querySelectorAll('a[href], button, summary, input:not([type=hidden]), select, textarea, label.tick')) {
      if (!seen(e) || e.closest('svg') || e.closest('.shutter input')) continue;
      // A link inside a sentence has the sentence's size.
      if (e.tagName === 'A' && getComputedStyle(e).display === 'inline' && e.parentElement.textContent.trim().length > e.textContent.trim().length + 3) continue;
      if (e.type === 'checkbox' || e.type === 'radio' || e.type === 'file') continue;
      const r = e.getBoundingClientRect();
      if (r.height < 43.5) say('small target ' + r.height.toFixed(0), e);
    }
  }
  return [...new Set(out)].slice(0, 40).join('\n');
})()

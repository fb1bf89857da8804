// Keeps the pages of the site log at hand for when the connection is gone; everything else goes to the server, and
// what the server answers always comes first.
'use strict';
const CACHE = 'site-log-VERSION';
const KINDS = [/*KINDS*/];
const PAGES = ['log', 'test-day', ...KINDS.map(k => 'record?kind=' + k)];
const FILES = [/*FILES*/];

self.addEventListener('install', event => {
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll(FILES);
    // Pages need the session's cookie; without one they are kept when first opened.
    await Promise.allSettled(PAGES.map(page => cache.add(page)));
    await self.skipWaiting();
  })());
});

self.addEventListener('activate', event => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith('site-log-') && name !== CACHE) await caches.delete(name);
    await self.clients.claim();
  })());
});

self.addEventListener('fetch', event => {
  const { request } = event;
  const at = new URL(request.url);
  if (request.method !== 'GET' || at.origin !== location.origin) return;
  if (at.pathname.startsWith('/assets/')) event.respondWith(file(request));
  else if (request.mode === 'navigate') event.respondWith(page(request, at));
});

async function file(request) {
  const kept = await caches.match(request);
  return kept || fetch(request);
}

async function page(request, at) {
  const ours = ['/log', '/test-day', '/record'].includes(at.pathname);
  try {
    const answer = await fetch(request);
    if (ours && answer.ok && !answer.redirected) {
      const cache = await caches.open(CACHE);
      await cache.put(request, answer.clone());
    }
    return answer;
  } catch {
    const exact = await caches.match(request);
    const loose = at.pathname === '/record' ? null : await caches.match(request, { ignoreSearch: true });
    const kind = at.searchParams.get('kind');
    const form = kind ? await caches.match('record?kind=' + kind) : null;
    return exact || loose || form || new Response(
      '<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">' +
      '<title>No connection</title><h1>No connection</h1><p>This page is not kept on the device. ' +
      '<a href="/log">The site log</a> is.</p></html>',
      { status: 503, headers: { 'content-type': 'text/html; charset=utf-8' } });
  }
}

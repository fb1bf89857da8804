// Arrow keys and a clicker turn the page.
'use strict';
document.addEventListener('keydown', event => {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  const way = { ArrowRight: 'next', PageDown: 'next', ArrowLeft: 'prev', PageUp: 'prev' }[event.key];
  const link = way && document.querySelector(`a[rel=${way}]`);
  if (link) { event.preventDefault(); link.click(); }
});

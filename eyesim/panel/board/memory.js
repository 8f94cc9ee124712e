// What the page of a board remembers while its window is open, so that loading it again does not begin anew.

/** Keep a text under a name; a store that is full, or not allowed, is passed over: nothing is lost now. */
export function remember(name, text) {
  try { sessionStorage.setItem(name, text); } catch { /* see above */ }
}

/** Text that was kept under a name; undefined where there is none. */
export function recall(name) {
  try { return sessionStorage.getItem(name) || undefined; } catch { return undefined; }
}

// What the page of a board remembers while its window is open, so that loading it again does not begin anew.

function remember(place, text) {
  try { sessionStorage.setItem(place, text); } catch { /* it is full, or not allowed: nothing is lost now */ }
}

function recall(place) {
  try { return sessionStorage.getItem(place) || undefined; } catch { return undefined; }
}


// The few words in which the board's scripts are tried: `test` names something that must hold, `equal` and `near` hold
// what was found against what was wanted. `run` is called by test_board.py, once for each test.

const tests = new Map();

/** Name something that must hold. */
export function test(name, body) {
  tests.set(name, body);
}

/** Run one test; what it throws is its failure. */
export async function run(name) {
  document.body.replaceChildren();
  sessionStorage.clear();
  await tests.get(name)();
}

/** Fail unless two values are written alike as JSON. */
export function equal(found, wanted) {
  const [one, other] = [found, wanted].map((value) => JSON.stringify(value));
  if (one !== other) throw new Error(`${one} was found, ${other} wanted`);
}

/** Fail unless numbers agree to within a tolerance. */
export function near(found, wanted, tolerance = 1e-9) {
  equal(found.length, wanted.length);
  [...found].forEach((value, k) => {
    if (!(Math.abs(value - wanted[k]) <= tolerance)) throw new Error(`${value} was found at ${k}, ${wanted[k]} wanted`);
  });
}

/** Press a key on an element; say whether what the browser or the page would do with it was prevented, or it got on. */
export function press(element, key, more = {}) {
  let passed = false;
  const listen = () => { passed = true; };
  window.addEventListener("keydown", listen);
  const event = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true, ...more });
  element.dispatchEvent(event);
  window.removeEventListener("keydown", listen);
  return { prevented: event.defaultPrevented, passed };
}

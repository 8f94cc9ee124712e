import { Shortcuts, takesLetters } from "/scripts/keyboard.js";
import { make } from "/scripts/dom.js";
import { equal, press, test } from "./check.js";

function listening(whole = false) {
  const seen = [], on = { keys: true };
  const text = make("input", { type: "text" }), range = make("input", { type: "range" });
  const root = make("div", { tabindex: -1 }, text, range), aside = make("div");
  document.body.append(root, aside);
  const shortcuts = new Shortcuts(root, whole, () => on.keys);
  shortcuts.add("H", () => seen.push("h"));
  return { seen, on, text, range, root, aside, shortcuts };
}

test("a key presses its button, in either case, and reaches no shortcut of the host", () => {
  const { seen, root, range } = listening();
  equal(press(root, "h"), { prevented: true, passed: false });
  equal(press(range, "H"), { prevented: true, passed: false });
  equal(press(root, "q"), { prevented: false, passed: false });
  equal(seen, ["h", "h"]);
});

test("what is typed is typed", () => {
  const { seen, text } = listening();
  equal(press(text, "h"), { prevented: false, passed: false });
  equal(seen, []);
  equal([make("textarea"), make("select"), make("input", { type: "checkbox" })].map(takesLetters), [true, true, false]);
});

test("keys with Ctrl, Alt or Meta, and keys that are held, press nothing", () => {
  const { seen, root } = listening();
  for (const more of [{ ctrlKey: true }, { altKey: true }, { metaKey: true }, { repeat: true }]) press(root, "h", more);
  equal(seen, []);
});

test("keys can be switched off", () => {
  const { seen, root, on } = listening();
  on.keys = false;
  press(root, "h");
  equal(seen, []);
});

test("on a whole page keys work wherever one is, once for each press, until the board is closed", () => {
  const { seen, root, aside, text, shortcuts } = listening(true);
  press(aside, "h");
  press(root, "h");
  press(text, "h");
  equal(seen, ["h", "h"]);
  shortcuts.close();
  press(aside, "h");
  equal(seen, ["h", "h"]);
});

test("elsewhere keys beside the board are not its own", () => {
  const { seen, aside } = listening();
  equal(press(aside, "h"), { prevented: false, passed: true });
  equal(seen, []);
});

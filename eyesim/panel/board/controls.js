// Controls of a board: the browser's own, each with a name and a unit, so that keyboard and screen reader find them.
//
// Each function takes what `layout.py` says of a control, and the board, and gives a control: its `element`;
// `show(value)`; `able(yes)`; and, where it has them, `refuse()` of what was written, `press()`, `say(words)`, `input`.

import { decimals, make } from "./dom.js";
import { Plate } from "./plate.js";

/** A number on a scale, which can also be typed; `bare`: only typed; without `labelled` its name is for the ear alone. */
function slider(spec, board, labelled = true) {
  const id = `${board.id}-${spec.name}`;
  const name = spec.unit ? `${spec.words} [${spec.unit}]` : spec.words;
  const range = make("input", { type: "range", id, min: spec.low, max: spec.high, step: spec.step,
    "aria-label": name, "data-slope": spec.name });
  const typed = make("input", { type: "text", inputmode: "decimal", class: "eyesim-typed", autocomplete: "off",
    "aria-label": `${name}, typed` });
  const written = (value) => value === null ? "" : value.toFixed(Math.max(spec.digits, Math.min(3, decimals(value))));
  const now = () => written(board.values[spec.name]);
  let shown; // what the field showed last: what is being typed stays, unless there is news
  range.addEventListener("input", () => board.change(spec.name, Number(range.value)));
  typed.addEventListener("change", () => { if (typed.value !== now()) { shown = undefined; board.type(spec.name, typed.value); } });
  typed.addEventListener("keydown", (event) => {
    const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!way) return;
    event.preventDefault();
    const next = Math.min(spec.high, Math.max(spec.low, board.values[spec.name] + way * spec.step));
    board.change(spec.name, Number(next.toFixed(6)));
  });
  const both = make("span", { class: "eyesim-range" }, ...(spec.bare ? [] : [range]), typed);
  return {
    element: make("div", { class: "eyesim-slider" }, ...(labelled ? [make("label", { for: id }, name)] : []), both),
    show: (value) => {
      const words = written(value);
      range.value = value ?? spec.low; // null: there is no number to show
      range.setAttribute("aria-valuetext", value === null ? "none" : `${words} ${spec.unit || ""}`.trim());
      if (words === shown && document.activeElement === typed) return;
      if (typed.value !== words) typed.value = words;
      shown = words;
      typed.removeAttribute("aria-invalid");
    },
    refuse: () => { shown = now(); typed.setAttribute("aria-invalid", "true"); },
    able: (yes) => { range.disabled = typed.disabled = !yes; },
  };
}

/** One of several, in a list that opens. */
function menu(spec, board) {
  const id = `${board.id}-${spec.name}`;
  const options = spec.options.map(([key, words]) => make("option", { value: key }, words));
  const select = make("select", { id, "aria-label": spec.words }, ...options);
  select.addEventListener("change", () => board.change(spec.name, select.value));
  return {
    element: make("div", { class: "eyesim-menu" }, make("label", { for: id }, spec.shown), select),
    show: (value) => { select.value = value; },
    able: (yes) => { select.disabled = !yes; },
  };
}

/** One of several, all of them in sight. */
function radios(spec, board) {
  const inputs = spec.options.map(([key]) => make("input", { type: "radio", name: `${board.id}-${spec.name}`, value: key }));
  const lines = spec.options.map(([, words], i) => make("label", {}, inputs[i], make("span", {}, words)));
  inputs.forEach((input) => input.addEventListener("change", () => board.change(spec.name, input.value)));
  return {
    element: make("fieldset", { class: "eyesim-radios" }, make("legend", {}, spec.words), ...lines),
    show: (value) => inputs.forEach((input) => { input.checked = input.value === value; }),
    able: (yes) => inputs.forEach((input) => { input.disabled = !yes; }),
  };
}

/** Something that is so or not. */
function tick(spec, board) {
  const box = make("input", { type: "checkbox", "aria-label": spec.full });
  box.addEventListener("change", () => board.change(spec.name, box.checked));
  return {
    element: make("label", { class: "eyesim-tick" }, box, make("span", {}, spec.words)),
    show: (value) => { box.checked = value; },
    able: (yes) => { box.disabled = !yes; },
  };
}

/** Something to press, by a key too; a `toggle` stays pressed, an `act` is what the page does by itself. */
function button(spec, board) {
  const words = make("span", {}, spec.words);
  const element = make("button", { type: "button", title: spec.hint, "aria-keyshortcuts": spec.key,
    "aria-pressed": spec.toggle === true ? "false" : undefined }, words);
  const press = () => {
    if (element.disabled) return;
    if (spec.act) board.act(spec);
    else if (spec.toggle) board.change(spec.name, !board.values[spec.name]);
    else board.press(spec.name);
  };
  if (spec.key) {
    element.prepend(make("kbd", { "aria-hidden": "true" }, spec.key.toUpperCase()));
    board.shortcuts.add(spec.key, press);
  }
  element.addEventListener("click", press);
  return {
    element,
    press,
    show: (value) => { if (spec.toggle === true) element.setAttribute("aria-pressed", String(value)); },
    able: (yes) => { element.disabled = !yes; },
    say: (text) => { words.textContent = text; },
  };
}

/** A text; an `eager` one is sent at every key, not only when it is done. */
function field(spec, board) {
  const id = `${board.id}-${spec.name}`;
  const input = make(spec.lines ? "textarea" : "input", { id, type: spec.lines ? undefined : "text", rows: spec.lines,
    placeholder: spec.hint, autocomplete: "off", spellcheck: "false" });
  let shown; // as in a slider's field
  for (const event of spec.eager ? ["input", "change"] : ["change"])
    input.addEventListener(event, () => { shown = undefined; board.change(spec.name, input.value); });
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !spec.lines) input.dispatchEvent(new Event("change"));
  });
  return {
    element: make("div", { class: "eyesim-field" }, make("label", { for: id }, spec.words), input),
    show: (value) => {
      if (value === shown && (document.activeElement === input || input.hasAttribute("aria-invalid"))) return;
      input.removeAttribute("aria-invalid");
      if (input.value !== value) input.value = value;
      shown = value;
    },
    refuse: () => { shown = board.base[spec.name]; input.setAttribute("aria-invalid", "true"); },
    able: (yes) => { input.disabled = !yes; },
    input,
  };
}

/** A photograph on which points are set. */
function plate(spec, board) {
  const one = new Plate(board, spec);
  return { element: one.element, show: (value) => one.show(value), able: (yes) => { one.able = yes; } };
}

/** What makes each kind of control. */
export const CONTROLS = { slider, menu, radios, tick, button, field, plate };

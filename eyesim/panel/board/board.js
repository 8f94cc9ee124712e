// One front end for all panels. Python declares the controls and works everything out; this page shows it.
//
// While a control moves, the picture moves with it at once: Python has sent how each number of the picture changes
// with that control (its slope), and the page adds slope times step. As soon as the solved picture arrives, it takes
// its place. The page knows no geometry of its own.

import { CONTROLS } from "./controls.js";
import { make, numbersOf } from "./dom.js";
import { paint, save } from "./files.js";
import { Shortcuts } from "./keyboard.js";
import { recall, remember } from "./memory.js";
import { Outbox } from "./outbox.js";
import { Stage } from "./stage.js";

const REST = 700; // [ms] after which what is shown is read aloud
const LOST = 8000; // [ms] without an answer after which the page says so
const SILENT = "Python does not answer. Numbers and shapes may be old: wait, or run the cell (reload the page) again.";

let boards = 0;

/** Controls, words and pictures of one panel in one page. */
export class Board {
  /** `model` is the widget's: it has the layout as "board", and passes messages on; `host` is where the board goes. */
  constructor(model, host) {
    this.model = model;
    this.id = `${Date.now().toString(36)}.${++boards}`;
    this.controls = new Map();
    this.regions = new Map();
    this.stages = new Map();
    this.values = {}; // what the controls show
    this.base = {}; // what the picture was solved with
    this.outbox = new Outbox((message) => this.send(message));
    const layout = model.get("board");
    this.root = make("div", { class: `eyesim-board ${layout.look || ""}`, role: "group", "aria-label": layout.name,
      "data-lm-suppress-shortcuts": "true", "data-asked": 0, "data-settled": -1, tabindex: -1 });
    this.file = layout.file;
    this.whole = layout.whole && document.body.dataset.voila !== undefined;
    this.place = `${layout.file} ${location.pathname}`;
    this.shortcuts = new Shortcuts(this.root, this.whole, () => this.values.keys !== false);
    this.aloud = make("div", { class: "eyesim-aloud", role: "status", "aria-live": "polite" });
    this.fault = make("div", { class: "eyesim-fault", role: "alert" });
    this.root.append(this.node(layout.content), this.fault, this.aloud);
    host.append(this.root);
    for (const kind of ["focusin", "pointerover"])
      this.root.addEventListener(kind, (event) => this.foresee(event.target));
    this.heard = (message, buffers) => this.hear(message, buffers);
    model.on("msg:custom", this.heard);
    this.send({ kind: "hello", memory: this.whole ? recall(this.place) : undefined });
  }

  /** Leave the page. */
  close() {
    this.model.off("msg:custom", this.heard);
    this.shortcuts.close();
    clearTimeout(this.resting);
    clearTimeout(this.losing);
  }

  // --- what the layout is made of ---------------------------------------------------------------------------

  node(spec) {
    const element = CONTROLS[spec.kind] ? this.keep(spec) : this[spec.kind](spec);
    element.classList.add(...(spec.look || "").split(" ").filter(Boolean));
    return element;
  }

  keep(spec, ...rest) {
    const control = CONTROLS[spec.kind](spec, this, ...rest);
    this.controls.set(spec.name, { ...control, arranges: spec.arranges });
    return control.element;
  }

  nodes(spec) {
    return spec.children.map((child) => this.node(child));
  }

  row(spec) {
    return make("div", { class: "eyesim-row" }, ...this.nodes(spec));
  }

  column(spec) {
    return make("div", { class: "eyesim-column" }, ...this.nodes(spec));
  }

  group(spec) {
    return make("fieldset", { class: "eyesim-group" }, make("legend", {}, spec.words), ...this.nodes(spec));
  }

  fold(spec) {
    return make("details", { class: "eyesim-fold", open: spec.open }, make("summary", {}, spec.words), this.column(spec));
  }

  /** A quantity of both sides: one name, and a control for each. */
  sides(spec) {
    const heading = make("div", { class: "eyesim-sides-name", "aria-hidden": "true" }, spec.words);
    const children = spec.children.map((child) => (child.kind === "slider" ? this.keep(child, false) : this.node(child)));
    return make("div", { class: "eyesim-sides" }, heading, ...children);
  }

  region(spec) {
    const element = make("div", { class: `eyesim-region eyesim-${spec.name}` });
    this.regions.set(spec.name, element);
    return element;
  }

  stage(spec) {
    const element = make("div", { class: "eyesim-stage" });
    this.stages.set(spec.name, new Stage(element));
    return element;
  }

  /** Show a value in its control, and in what the style sheet lays out by it. */
  show(name, value) {
    const control = this.controls.get(name);
    this.values[name] = value;
    control.show(value);
    if (control.arranges) this.root.dataset[name] = value;
  }

  // --- to Python --------------------------------------------------------------------------------------------

  send(message, buffers) {
    try {
      this.model.send({ ...message, view: this.id }, undefined, buffers);
    } catch {
      this.lost(); // the kernel has gone
    }
  }

  /** Set a control to a value: the picture moves at once, and Python hears of it. */
  change(name, value) {
    if (this.values[name] === value) return;
    this.show(name, value);
    this.draw();
    this.post(name, { kind: "set", name, value });
  }

  /** Send what was typed for a control; what it means, Python says. */
  type(name, text) {
    this.post(name, { kind: "typed", name, value: text });
  }

  /** Press a button of Python's. */
  press(name) {
    this.post(name, { kind: "press", name });
  }

  post(name, message) {
    if (!this.losing) this.losing = setTimeout(() => this.lost(), LOST);
    this.outbox.post(name, message);
    this.root.dataset.asked = this.outbox.turn;
  }

  /** Ask how the pictures begin to move with a control that may be moved next. */
  foresee(target) {
    const name = target.dataset && target.dataset.slope;
    if (name && ![...this.stages.values()].every((stage) => stage.knows(name))) this.send({ kind: "slope", name });
  }

  lost() {
    clearTimeout(this.losing);
    this.losing = null;
    this.fault.textContent = SILENT;
  }

  // --- from Python ------------------------------------------------------------------------------------------

  hear(message, buffers) {
    if (message.view !== undefined && message.view !== this.id) return; // another page asked for it
    if (message.kind === "shown") this.shown(message, buffers);
    else if (message.kind === "slope") this.sloped(message, buffers);
    else if (message.kind === "frames") this.film(message);
    else if (message.kind === "still") this.still(message);
    else if (message.kind === "file") save(new Blob([buffers[0]], { type: message.type }), message.name);
  }

  /** Bring what Python has worked out onto the page; what a hand has changed since stays under the hand. */
  shown(message, buffers) {
    const turn = (message.turns || {})[this.id] || 0;
    const news = this.outbox.answer(turn);
    this.showPictures(message.pictures || {}, buffers);
    for (const [name, html] of Object.entries(message.regions || {})) {
      const region = this.regions.get(name);
      if (region && region.held !== html) region.innerHTML = region.held = html;
    }
    for (const [name, words] of Object.entries(message.words || {})) this.controls.get(name).say(words);
    if (message.busy) for (const [name, region] of this.regions) region.setAttribute("aria-busy", message.busy.includes(name));
    if (message.off) for (const [name, control] of this.controls) control.able(!message.off.includes(name));
    if (message.gone) for (const [name, control] of this.controls) control.element.hidden = message.gone.includes(name);
    Object.assign(this.base, message.values);
    const refuse = message.refused && this.controls.get(message.refused).refuse;
    for (const [name, value] of Object.entries(message.values || {}))
      if (!this.outbox.isChangedSince(name, turn) && !(refuse && name === message.refused)) this.show(name, value);
    this.draw();
    if (this.whole && message.memory) remember(this.place, message.memory);
    this.fault.textContent = message.fault || "";
    if (refuse) refuse();
    this.root.dataset.settled = this.outbox.answered;
    if (news) {
      clearTimeout(this.losing);
      this.losing = this.outbox.open ? setTimeout(() => this.lost(), LOST) : null;
    }
    this.readAloud(message.said);
    this.outbox.flush();
  }

  showPictures(pictures, buffers) {
    for (const [name, picture] of Object.entries(pictures)) {
      const stage = this.stages.get(name);
      if (!stage) continue;
      const numbers = numbersOf(buffers[picture.buffer], Float32Array);
      if (picture.svg !== undefined) {
        stage.replace(picture.svg, picture.form, numbers);
        if (this.root.contains(document.activeElement)) this.foresee(document.activeElement);
      } else if (!stage.update(picture.form, numbers, picture.words, picture.sentence)) this.send({ kind: "hello" });
    }
  }

  /** Have words read aloud once things have come to rest; what was read before is not so any more. */
  readAloud(words) {
    if (words !== this.aloud.textContent) this.aloud.textContent = "";
    clearTimeout(this.resting);
    this.resting = setTimeout(() => {
      if (words !== undefined && this.outbox.turn) this.aloud.textContent = words;
    }, REST);
  }

  sloped(message, buffers) {
    for (const [name, { form, buffer }] of Object.entries(message.stages)) {
      const slope = { places: numbersOf(buffers[buffer], Uint32Array), values: numbersOf(buffers[buffer + 1], Float32Array) };
      if (this.stages.has(name)) this.stages.get(name).learn(form, message.name, slope);
    }
    this.draw();
  }

  draw() {
    const changes = Object.entries(this.values).map(([name, value]) => [name, value - this.base[name]]).filter(([, step]) => step);
    for (const stage of this.stages.values()) stage.draw(changes);
  }

  // --- what the page does by itself -------------------------------------------------------------------------

  /** Do what a button does without Python: "fullscreen", or "copy" the text of a field. */
  act(spec) {
    if (spec.act === "copy") this.copy(spec);
    else if (document.fullscreenElement) document.exitFullscreen();
    else this.root.requestFullscreen();
  }

  async copy(spec) {
    const { input } = this.controls.get(spec.from), { say } = this.controls.get(spec.name);
    input.select();
    try { await navigator.clipboard.writeText(input.value); } catch { document.execCommand("copy"); }
    this.aloud.textContent = spec.done;
    say(spec.done);
    setTimeout(() => say(spec.words), 1500);
  }

  still({ svg, type }) {
    if (type === "svg") save(new Blob([svg], { type: "image/svg+xml" }), `${this.file}.svg`);
    else paint(svg, 2).then((blob) => save(blob, `${this.file}.png`), () => this.unpainted());
  }

  async film(message) {
    const frames = [];
    try {
      for (const svg of message.frames) frames.push(await (await paint(svg, 1.2)).arrayBuffer());
    } catch {
      this.unpainted();
      return;
    }
    this.send({ kind: "film" }, frames);
  }

  unpainted() {
    this.fault.textContent = "The page could not paint this. Try again.";
  }
}

/** Show a widget's board in an element; returns what takes it away again. */
function render({ model, el }) {
  const board = new Board(model, el);
  return () => board.close();
}

export default { render };

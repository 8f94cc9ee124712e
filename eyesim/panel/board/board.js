// One front end for all panels. Python declares the controls and works everything out; this page shows it.
//
// While a control moves, the picture moves with it at once: Python has sent how each number of the picture changes
// with that control (its slope), and the page adds slope times step. As soon as the solved picture arrives, it takes
// its place. The page knows no geometry of its own.

const WINDOW = 3; // changes on their way to Python at a time; the newest waits, older ones are dropped
const REST = 700; // [ms] after which what is shown is read aloud
const LOST = 8000; // [ms] without an answer after which the page says so

let boards = 0;

class Board {
  constructor(model, host) {
    this.model = model;
    this.id = `${Date.now().toString(36)}.${++boards}`;
    this.controls = new Map();
    this.regions = new Map();
    this.stages = new Map();
    this.keys = new Map();
    this.values = {}; // what the controls show
    this.base = {}; // what the picture was solved with
    this.asked = new Map(); // by control, the turn of its newest change
    this.turn = 0;
    this.answered = 0;
    this.waiting = new Map(); // by control, its newest change, not sent yet
    this.onWay = []; // turns sent and not answered yet
    const layout = model.get("board");
    this.root = make("div", { class: `eyesim-board ${layout.look || ""}`, role: "group", "aria-label": layout.name,
      "data-lm-suppress-shortcuts": "true", "data-asked": 0, "data-settled": -1, tabindex: -1 });
    this.file = layout.file;
    this.whole = layout.whole && document.body.dataset.voila !== undefined;
    this.place = `${layout.file} ${location.pathname}`;
    this.aloud = make("div", { class: "eyesim-aloud", role: "status", "aria-live": "polite" });
    this.fault = make("div", { class: "eyesim-fault", role: "alert" });
    this.root.append(this.node(layout.content), this.fault, this.aloud);
    host.append(this.root);
    this.heard = (message, buffers) => this.hear(message, buffers);
    model.on("msg:custom", this.heard);
    this.listen(layout);
    this.send({ kind: "hello", memory: this.whole ? recall(this.place) : undefined });
  }

  close() {
    this.model.off("msg:custom", this.heard);
    document.removeEventListener("keydown", this.pressed);
    clearTimeout(this.resting);
    clearTimeout(this.losing);
  }

  send(message, buffers) {
    try {
      this.model.send({ ...message, view: this.id }, undefined, buffers);
    } catch {
      this.lost(); // the kernel has gone
    }
  }

  // Keys reach no shortcut of the host; those of the buttons work where nothing is being typed.
  listen(layout) {
    const quiet = (target) => target.matches("input:not([type=range],[type=radio],[type=checkbox]),select,textarea");
    this.pressed = (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || quiet(event.target) || this.values.keys === false) return;
      const name = this.keys.get((event.key || "").toLowerCase());
      if (name === undefined || event.repeat) return;
      event.preventDefault();
      this.controls.get(name).press();
    };
    const { whole } = this;
    if (whole) document.addEventListener("keydown", this.pressed);
    this.root.addEventListener("keydown", (event) => {
      if (!whole) this.pressed(event);
      if (!whole || quiet(event.target)) event.stopPropagation();
    });
    for (const kind of ["focusin", "pointerover"])
      this.root.addEventListener(kind, (event) => this.foresee(event.target));
  }

  // Ask how the picture begins to move with a control that may be moved next.
  foresee(target) {
    const name = target.dataset && target.dataset.slope;
    const known = [...this.stages.values()].every((stage) => stage.slopes.has(`${stage.form} ${name}`));
    if (name && !known) this.send({ kind: "slope", name });
  }

  // --- what the layout is made of ---------------------------------------------------------------------------

  node(spec) {
    const known = { slider: "slider", sides: "sides", menu: "menu", radios: "radios", tick: "tick", button: "button",
      field: "field", plate: "plate", region: "region", stage: "stage", fold: "fold", group: "group", row: "box", column: "box" };
    const element = this[known[spec.kind]](spec);
    for (const name of (spec.look || "").split(" ").filter(Boolean)) element.classList.add(name);
    return element;
  }

  box(spec) {
    return make("div", { class: `eyesim-${spec.kind}` }, ...spec.children.map((child) => this.node(child)));
  }

  group(spec) {
    const legend = make("legend", {}, spec.words);
    return make("fieldset", { class: "eyesim-group" }, legend, ...spec.children.map((child) => this.node(child)));
  }

  fold(spec) {
    const inside = make("div", { class: "eyesim-column" }, ...spec.children.map((child) => this.node(child)));
    return make("details", { class: "eyesim-fold", open: spec.open }, make("summary", {}, spec.words), inside);
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

  slider(spec) {
    const id = `${this.id}-${spec.name}`;
    const label = make("label", { for: id }, spec.unit ? `${spec.words} [${spec.unit}]` : spec.words);
    return this.keep(spec, make("div", { class: "eyesim-slider" }, label, this.range(spec, id)));
  }

  // A quantity of both sides: one name, and a slider for each.
  sides(spec) {
    const heading = make("div", { class: "eyesim-sides-name", "aria-hidden": "true" }, spec.words);
    return make("div", { class: "eyesim-sides" }, heading, ...spec.children.map((one) => {
      if (one.kind !== "slider") return this.node(one);
      return this.keep(one, make("div", { class: "eyesim-slider" }, this.range(one, `${this.id}-${one.name}`)));
    }));
  }

  range(spec, id) {
    const name = spec.unit ? `${spec.words} [${spec.unit}]` : spec.words;
    const range = make("input", { type: "range", id, min: spec.low, max: spec.high, step: spec.step,
      "aria-label": name, "data-slope": spec.name });
    const typed = make("input", { type: "text", inputmode: "decimal", class: "eyesim-typed", autocomplete: "off",
      "aria-label": `${name}, typed` });
    const written = (value) => value.toFixed(Math.max(spec.digits, Math.min(3, places(value))));
    const move = (value) => this.change(spec.name, value);
    let told; // what the field was last told: what is being typed stays, unless there is news
    range.addEventListener("input", () => move(Number(range.value)));
    typed.addEventListener("change", () => { if (typed.value !== written(this.values[spec.name])) { told = undefined; this.type(spec.name, typed.value); } });
    typed.addEventListener("keydown", (event) => {
      const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
      if (!way) return;
      event.preventDefault();
      const next = Math.min(spec.high, Math.max(spec.low, this.values[spec.name] + way * spec.step));
      move(Number(next.toFixed(6)));
    });
    this.controls.set(spec.name, {
      show: (value) => {
        range.value = value;
        range.setAttribute("aria-valuetext", `${written(value)} ${spec.unit || ""}`.trim());
        const words = written(value);
        if (words === told && document.activeElement === typed) return;
        if (typed.value !== words) typed.value = words;
        told = words;
        typed.removeAttribute("aria-invalid");
      },
      refuse: () => { told = written(this.values[spec.name]); typed.setAttribute("aria-invalid", "true"); },
      able: (yes) => { range.disabled = typed.disabled = !yes; },
    });
    return make("span", { class: "eyesim-range" }, ...(spec.bare ? [] : [range]), typed);
  }

  menu(spec) {
    const id = `${this.id}-${spec.name}`;
    const select = make("select", { id, "aria-label": spec.words }, ...spec.options.map(([key, words]) => make("option", { value: key }, words)));
    select.addEventListener("change", () => this.change(spec.name, select.value));
    this.controls.set(spec.name, { show: (value) => { select.value = value; this.arrange(spec, value); }, able: (yes) => { select.disabled = !yes; } });
    const label = make("label", { for: id }, spec.shown);
    return this.keep(spec, make("div", { class: "eyesim-menu" }, label, select));
  }

  radios(spec) {
    const inputs = spec.options.map(([key]) => make("input", { type: "radio", name: `${this.id}-${spec.name}`, value: key }));
    const lines = spec.options.map(([, words], i) => make("label", {}, inputs[i], make("span", {}, words)));
    inputs.forEach((input) => input.addEventListener("change", () => this.change(spec.name, input.value)));
    this.controls.set(spec.name, {
      show: (value) => { inputs.forEach((input) => { input.checked = input.value === value; }); this.arrange(spec, value); },
      able: (yes) => inputs.forEach((input) => { input.disabled = !yes; }),
    });
    return this.keep(spec, make("fieldset", { class: "eyesim-radios" }, make("legend", {}, spec.words), ...lines));
  }

  // What the style sheet may lay out differently, by the choice that was made.
  arrange(spec, value) {
    if (spec.arranges) this.root.dataset[spec.name] = value;
  }

  tick(spec) {
    const box = make("input", { type: "checkbox", "aria-label": spec.full });
    box.addEventListener("change", () => this.change(spec.name, box.checked));
    this.controls.set(spec.name, { show: (value) => { box.checked = value; }, able: (yes) => { box.disabled = !yes; } });
    return this.keep(spec, make("label", { class: "eyesim-tick" }, box, make("span", {}, spec.words)));
  }

  button(spec) {
    const words = make("span", {}, spec.words);
    const button = make("button", { type: "button", title: spec.hint, "aria-keyshortcuts": spec.key,
      "aria-pressed": spec.toggle === true ? "false" : undefined }, words);
    if (spec.key) {
      button.prepend(make("kbd", { "aria-hidden": "true" }, spec.key.toUpperCase()));
      this.keys.set(spec.key.toLowerCase(), spec.name);
    }
    const press = () => {
      if (button.disabled) return;
      if (spec.act) this[spec.act](spec);
      else if (spec.toggle) this.change(spec.name, !this.values[spec.name]);
      else this.post(spec.name, { kind: "press", name: spec.name });
    };
    button.addEventListener("click", press);
    this.controls.set(spec.name, {
      press,
      show: (value) => {
        if (spec.toggle === true) button.setAttribute("aria-pressed", String(value));
        if (spec.arranges) this.root.dataset[spec.name] = value;
      },
      able: (yes) => { button.disabled = !yes; },
      say: (text) => { words.textContent = text; },
    });
    return this.keep(spec, button);
  }

  field(spec) {
    const id = `${this.id}-${spec.name}`;
    const input = make(spec.lines ? "textarea" : "input", { id, type: spec.lines ? undefined : "text", rows: spec.lines,
      placeholder: spec.hint, autocomplete: "off", spellcheck: "false" });
    let told; // as in a slider's field
    for (const event of spec.eager ? ["input", "change"] : ["change"])
      input.addEventListener(event, () => { told = undefined; this.change(spec.name, input.value); });
    input.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && !spec.lines) input.dispatchEvent(new Event("change"));
    });
    this.controls.set(spec.name, {
      show: (value) => {
        if (value === told && (document.activeElement === input || input.hasAttribute("aria-invalid"))) return;
        input.removeAttribute("aria-invalid");
        if (input.value !== value) input.value = value;
        told = value;
      },
      refuse: () => { told = this.base[spec.name]; input.setAttribute("aria-invalid", "true"); },
      able: (yes) => { input.disabled = !yes; },
      input,
    });
    return this.keep(spec, make("div", { class: "eyesim-field" }, make("label", { for: id }, spec.words), input));
  }

  plate(spec) {
    const plate = new Plate(this, spec);
    this.controls.set(spec.name, { show: (value) => plate.show(value), able: (yes) => { plate.able = yes; } });
    return this.keep(spec, plate.element);
  }

  keep(spec, element) {
    this.controls.get(spec.name).element = element;
    return element;
  }

  // --- to Python --------------------------------------------------------------------------------------------

  change(name, value) {
    if (this.values[name] === value) return;
    this.values[name] = value;
    this.controls.get(name).show(value);
    this.draw();
    this.post(name, { kind: "set", name, value });
  }

  type(name, text) {
    this.post(name, { kind: "typed", name, value: text });
  }

  post(name, message) {
    this.asked.set(name, ++this.turn);
    this.root.dataset.asked = this.turn;
    const key = message.kind === "set" ? name : `${name} ${this.turn}`; // of a slider the newest counts, of presses each
    this.waiting.delete(key); // so that it goes last
    this.waiting.set(key, { ...message, turn: this.turn });
    if (!this.losing) this.losing = setTimeout(() => this.lost(), LOST);
    this.flush();
  }

  flush() {
    this.onWay = this.onWay.filter((turn) => turn > this.answered);
    for (const [key, message] of this.waiting) {
      if (this.onWay.length >= WINDOW) return;
      this.waiting.delete(key);
      this.onWay.push(message.turn);
      this.send(message);
    }
  }

  lost() {
    clearTimeout(this.losing);
    this.losing = null;
    this.fault.textContent = "Python does not answer. Numbers and shapes may be old: wait, or run the cell (reload the page) again.";
  }

  // --- from Python ------------------------------------------------------------------------------------------

  hear(message, buffers) {
    if (message.view !== undefined && message.view !== this.id) return; // another page asked for it
    if (message.kind === "shown") this.shown(message, buffers);
    else if (message.kind === "slope") this.sloped(message, buffers);
    else if (message.kind === "frames") this.film(message);
    else if (message.kind === "still") this.still(message);
    else if (message.kind === "file") this.save(new Blob([buffers[0]], { type: message.type }), message.name);
  }

  shown(message, buffers) {
    const turn = (message.turns || {})[this.id] || 0;
    const news = turn > this.answered;
    this.answered = Math.max(this.answered, turn);
    for (const [name, picture] of Object.entries(message.pictures || {})) {
      const stage = this.stages.get(name);
      if (!stage) continue;
      const numbers = read(buffers[picture.buffer], Float32Array);
      if (picture.svg !== undefined) {
        stage.whole(picture.svg, picture.form, numbers);
        if (this.root.contains(document.activeElement)) this.foresee(document.activeElement);
      }
      else if (!stage.take(picture.form, numbers, picture.words, picture.sentence)) this.send({ kind: "hello" });
    }
    for (const [name, html] of Object.entries(message.regions || {})) {
      const region = this.regions.get(name);
      if (region && region.held !== html) region.innerHTML = region.held = html;
    }
    for (const [name, words] of Object.entries(message.words || {})) this.controls.get(name).say(words);
    if (message.busy) for (const [name, region] of this.regions) region.setAttribute("aria-busy", message.busy.includes(name));
    if (message.off) this.each(message.off, (control, off) => control.able && control.able(!off));
    if (message.gone) this.each(message.gone, (control, gone) => { control.element.hidden = gone; });
    Object.assign(this.base, message.values);
    const refuses = message.refused && this.controls.get(message.refused).refuse;
    for (const [name, value] of Object.entries(message.values || {})) {
      if ((this.asked.get(name) || 0) > turn || (refuses && name === message.refused)) continue; // the hand has gone on
      this.values[name] = value;
      this.controls.get(name).show(value);
    }
    this.draw();
    if (this.whole && message.memory) remember(this.place, message.memory);
    this.fault.textContent = message.fault || "";
    if (refuses) this.controls.get(message.refused).refuse();
    this.root.dataset.settled = this.answered;
    if (news) {
      clearTimeout(this.losing);
      this.losing = this.answered < this.turn ? setTimeout(() => this.lost(), LOST) : null;
    }
    if (message.said !== this.aloud.textContent) this.aloud.textContent = ""; // what was said is not so any more
    clearTimeout(this.resting);
    this.resting = setTimeout(() => {
      if (message.said !== undefined && this.turn) this.aloud.textContent = message.said;
    }, REST);
    this.flush();
  }

  each(names, act) {
    const set = new Set(names);
    for (const [name, control] of this.controls) act(control, set.has(name));
  }

  sloped(message, buffers) {
    for (const [name, one] of Object.entries(message.stages)) {
      const stage = this.stages.get(name);
      if (stage) stage.slopes.set(`${one.form} ${message.name}`, { places: read(buffers[one.buffer], Uint32Array),
        values: read(buffers[one.buffer + 1], Float32Array) });
    }
    this.draw();
  }

  draw() {
    const changes = Object.entries(this.values).map(([name, value]) => [name, value - this.base[name]]).filter(([, step]) => step);
    for (const stage of this.stages.values()) stage.draw(changes);
  }

  // --- what the page does by itself -------------------------------------------------------------------------

  fullscreen() {
    if (document.fullscreenElement) document.exitFullscreen();
    else this.root.requestFullscreen();
  }

  async copy(spec) {
    const input = this.controls.get(spec.from).input;
    input.select();
    try { await navigator.clipboard.writeText(input.value); } catch { document.execCommand("copy"); }
    this.aloud.textContent = spec.done;
    const control = this.controls.get(spec.name);
    control.say(spec.done);
    setTimeout(() => control.say(spec.words), 1500);
  }

  still({ svg, type }) {
    if (type === "svg") this.save(new Blob([svg], { type: "image/svg+xml" }), `${this.file}.svg`);
    else painted(svg, 2).then((blob) => this.save(blob, `${this.file}.png`), () => this.unpainted());
  }

  async film(message) {
    const frames = [];
    try {
      for (const svg of message.frames) frames.push(await (await painted(svg, 1.2)).arrayBuffer());
    } catch {
      this.unpainted();
      return;
    }
    this.send({ kind: "film" }, frames);
  }

  unpainted() {
    this.fault.textContent = "The page could not paint this. Try again.";
  }

  save(blob, name) {
    const link = make("a", { href: URL.createObjectURL(blob), download: name });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }
}

function render({ model, el }) {
  const board = new Board(model, el);
  return () => board.close();
}

export default { render };

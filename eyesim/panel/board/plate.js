// A photograph on which points are set, by mouse or by keyboard. It knows nothing of eyes: Python is sent every point,
// and says which edges fit. Places are pixels of the photograph itself, however large it is shown.

import { make, shape } from "./dom.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** A photograph with points and a cross; its value holds `points` [what, x, y] and `edges` [x, y, a, b, turn]. */
export class Plate {
  /** `spec` is as `layout.plate` gives it; `board` has `values` and `change(name, value)`. */
  constructor(board, spec) {
    this.board = board;
    this.spec = spec;
    this.at = [Math.round(spec.width / 2), Math.round(spec.height / 2)];
    const hint = `${board.id}-${spec.name}-hint`;
    const picture = make("img", { src: spec.address, alt: spec.alt, draggable: "false" });
    this.overlay = shape("svg", { viewBox: `0 0 ${spec.width} ${spec.height}`, "aria-hidden": "true" });
    this.frame = make("div", { class: "eyesim-plate-frame", role: "application", tabindex: 0, "aria-label": spec.words,
      "aria-describedby": hint }, picture, this.overlay);
    this.frame.style.maxWidth = `calc(70vh * ${spec.width / spec.height})`; // in sight as a whole, beside what it says
    this.place = make("span", {});
    const words = make("div", { class: "eyesim-small", id: hint }, spec.hint, " ", this.place);
    this.element = make("div", { class: "eyesim-plate" }, this.frame, words);
    this.frame.addEventListener("pointerdown", (event) => this.pointed(event));
    this.frame.addEventListener("keydown", (event) => this.pressed(event));
    this.value = { points: [], edges: [] };
    this.able = true;
    this.draw();
  }

  /** Show points and edges. */
  show(value) {
    this.value = value;
    this.draw();
  }

  pointed(event) {
    if (event.button) return;
    const box = this.overlay.getBoundingClientRect();
    this.at = [((event.clientX - box.left) / box.width) * this.spec.width,
      ((event.clientY - box.top) / box.height) * this.spec.height].map((v) => Math.round(10 * v) / 10);
    this.set();
  }

  pressed(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key], choice = this.spec.choices[Number(event.key) - 1];
    if (arrow) {
      const far = event.shiftKey ? 10 : 1, { width, height } = this.spec;
      this.at = [Math.min(width, Math.max(0, this.at[0] + far * arrow[0])), Math.min(height, Math.max(0, this.at[1] + far * arrow[1]))];
      this.draw();
    } else if (event.key === "Enter" || event.key === " ") this.set();
    else if (event.key === "Backspace") this.change(this.value.points.slice(0, -1));
    else if (/^[1-9]$/.test(event.key) && choice) this.board.change(this.spec.chooser, choice);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  /** Set a point where the cross is, on what is chosen. */
  set() {
    this.change([...this.value.points, [this.board.values[this.spec.chooser], ...this.at]]);
  }

  change(points) {
    if (this.able) this.board.change(this.spec.name, { ...this.value, points });
  }

  // Each kind of point has a colour and a letter, the points of an edge a number too; lines are drawn from their first point on.
  draw() {
    const { width, height, kinds } = this.spec, unit = Math.max(width, height) / 100, drawn = [];
    for (const [x, y, a, b, turn] of this.value.edges)
      drawn.push(shape("ellipse", { cx: x, cy: y, rx: a, ry: b, transform: `rotate(${turn} ${x} ${y})`, class: "edge" }));
    const lines = new Map(), counts = new Map();
    for (const [what, x, y] of this.value.points) {
      const [letter, colour, form] = kinds[what];
      const before = lines.get(what);
      if (before && form === "line")
        drawn.push(shape("line", { x1: before[0], y1: before[1], x2: x, y2: y, stroke: colour, class: "edge" }));
      lines.set(what, [x, y]);
      drawn.push(shape("circle", { cx: x, cy: y, r: 0.55 * unit, fill: colour, class: "point" }));
      const word = shape("text", { x: x + 0.9 * unit, y: y - 0.7 * unit, "font-size": 2.2 * unit, fill: colour, class: "letter" });
      counts.set(what, (counts.get(what) || 0) + 1);
      word.textContent = form === "edge" ? `${letter}${counts.get(what)}` : letter;
      drawn.push(word);
    }
    const [x, y] = this.at, far = 2 * unit, near = 0.3 * unit; // the middle of the cross stays free: there the edge is seen
    const arms = `M${x - far} ${y}H${x - near}M${x + near} ${y}H${x + far}M${x} ${y - far}V${y - near}M${x} ${y + near}V${y + far}`;
    for (const name of ["halo", "cross"]) drawn.push(shape("path", { d: arms, class: name }));
    this.overlay.replaceChildren(...drawn);
    this.place.textContent = `The cross is at ${x}, ${y} px.`;
  }
}

// A photograph on which points are set, by mouse or by keyboard. It knows nothing of eyes: Python is told every point,
// and says which edges fit. Places are pixels of the photograph itself, however large it is shown.

const SVG = "http://www.w3.org/2000/svg";
const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function shape(tag, attributes) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

class Plate {
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
    const step = STEPS[event.key], choice = this.spec.choices[Number(event.key) - 1];
    if (step) {
      const far = event.shiftKey ? 10 : 1, { width, height } = this.spec;
      this.at = [Math.min(width, Math.max(0, this.at[0] + far * step[0])), Math.min(height, Math.max(0, this.at[1] + far * step[1]))];
      this.draw();
    } else if (event.key === "Enter" || event.key === " ") this.set();
    else if (event.key === "Backspace") this.tell(this.value.points.slice(0, -1));
    else if (/^[1-9]$/.test(event.key) && choice) this.board.change(this.spec.chooser, choice);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  set() {
    this.tell([...this.value.points, [this.board.values[this.spec.chooser], ...this.at]]);
  }

  tell(points) {
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
      if (before && form === "line") drawn.push(shape("line", { x1: before[0], y1: before[1], x2: x, y2: y, stroke: colour, class: "edge" }));
      lines.set(what, [x, y]);
      drawn.push(shape("circle", { cx: x, cy: y, r: 0.55 * unit, fill: colour, class: "point" }));
      const word = shape("text", { x: x + 0.9 * unit, y: y - 0.7 * unit, "font-size": 2.2 * unit, fill: colour, class: "letter" });
      counts.set(what, (counts.get(what) || 0) + 1);
      word.textContent = form === "edge" ? `${letter}${counts.get(what)}` : letter;
      drawn.push(word);
    }
    const [x, y] = this.at;
    for (const colour of ["halo", "cross"])
      drawn.push(shape("path", { d: `M${x - 2 * unit} ${y}H${x - 0.3 * unit}M${x + 0.3 * unit} ${y}H${x + 2 * unit}M${x} ${y - 2 * unit}V${y - 0.3 * unit}M${x} ${y + 0.3 * unit}V${y + 2 * unit}`, class: colour }));
    this.overlay.replaceChildren(...drawn);
    this.place.textContent = `The cross is at ${x}, ${y} px.`;
  }
}


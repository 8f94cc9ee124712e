// A picture in the page: SVG from Python, whose numbers can be sent anew and moved on by their slopes.

const UNSEEN = 5e-4; // [mm or px] a move that is not worth a paint
const NUMBERS = { circle: ["cx", "cy", "r"], text: ["x", "y"], line: ["x1", "y1", "x2", "y2"] };

/**
 * A picture that moves with the controls.
 *
 * Its numbers are those of its paths, circles, words and lines, in the order in which they are drawn. Pictures of one
 * form differ in nothing but numbers and words, so that of these alone the next picture can be made. `slopes` say how
 * each number begins to change with a control.
 */
export class Stage {
  constructor(element) {
    this.element = element;
    this.form = null;
    this.slopes = new Map(); // by form and control: those of a new form may come before its picture
  }

  /** Show a picture of a new form. */
  replace(svg, form, numbers) {
    this.element.innerHTML = svg;
    this.form = form;
    for (const key of this.slopes.keys()) if (!key.startsWith(`${form} `)) this.slopes.delete(key);
    this.solved = numbers;
    this.drawn = Float64Array.from(numbers);
    let at = 0;
    this.parts = [...this.element.querySelectorAll("path,circle,text,line")].map((element) => {
      const part = { element, at, kind: element.tagName };
      if (part.kind === "path") {
        const d = element.getAttribute("d");
        part.letters = d.match(/Z?[ML]/g) || [];
        part.end = d.endsWith("Z") ? "Z" : "";
        part.count = 2 * part.letters.length;
      } else part.count = NUMBERS[part.kind].length;
      at += part.count;
      return part;
    });
    this.texts = this.parts.filter((part) => part.kind === "text").map((part) => part.element);
  }

  /** Take numbers, words and sentence of a picture of the same form; false if it is of another one. */
  update(form, numbers, words, sentence) {
    if (form !== this.form) return false;
    this.solved = numbers;
    words.forEach((word, i) => { if (this.texts[i].textContent !== word) this.texts[i].textContent = word; });
    const svg = this.element.firstElementChild;
    svg.setAttribute("aria-label", sentence);
    const description = svg.querySelector("desc");
    if (description) description.textContent = sentence;
    return true;
  }

  /** Note how the numbers of a form begin to change with a control: `values` of those at `places`, all others stay. */
  learn(form, name, slope) {
    this.slopes.set(`${form} ${name}`, slope);
  }

  /** Whether it is known how this picture begins to move with a control. */
  knows(name) {
    return this.slopes.has(`${this.form} ${name}`);
  }

  /** Draw what is solved, moved on by slope times step for each control that has changed since. */
  draw(changes) {
    if (!this.solved) return;
    const numbers = Float64Array.from(this.solved);
    for (const [name, step] of changes) {
      const slope = this.slopes.get(`${this.form} ${name}`);
      if (slope) slope.places.forEach((place, k) => { numbers[place] += step * slope.values[k]; });
    }
    for (const part of this.parts) {
      const end = part.at + part.count;
      let moved = false;
      for (let k = part.at; k < end && !moved; k++) moved = Math.abs(numbers[k] - this.drawn[k]) > UNSEEN;
      if (!moved) continue;
      write(part, numbers);
      for (let k = part.at; k < end; k++) this.drawn[k] = numbers[k];
    }
  }
}

function write({ element, at, kind, letters, end }, numbers) {
  const n = (k) => Math.round(numbers[at + k] * 1000) / 1000;
  if (kind === "path") element.setAttribute("d", letters.map((letter, k) => `${letter}${n(2 * k)} ${n(2 * k + 1)}`).join("") + end);
  else NUMBERS[kind].forEach((name, k) => element.setAttribute(name, n(k)));
}

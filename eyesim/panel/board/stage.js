// A picture in the page: SVG from Python, whose numbers can be told anew and moved on by their slopes.

function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes))
    if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value === true ? "" : value);
  element.append(...children);
  return element;
}

const UNSEEN = 5e-4; // [mm or px] a move that is not worth a paint

class Stage {
  constructor(element) {
    this.element = element;
    this.form = null;
    this.slopes = new Map(); // by form and control: those of a new form may come before its picture
  }

  whole(svg, form, numbers) {
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
      } else part.count = { circle: 3, text: 2, line: 4 }[part.kind];
      at += part.count;
      return part;
    });
    this.texts = this.parts.filter((part) => part.kind === "text").map((part) => part.element);
  }

  take(form, numbers, words, sentence) {
    if (form !== this.form) return false;
    this.solved = numbers;
    words.forEach((word, i) => { if (this.texts[i].textContent !== word) this.texts[i].textContent = word; });
    const svg = this.element.firstElementChild;
    svg.setAttribute("aria-label", sentence);
    const told = svg.querySelector("desc");
    if (told) told.textContent = sentence;
    return true;
  }

  // Draw what is solved, moved on by the slopes of what has changed since.
  draw(changes) {
    if (!this.solved) return;
    const numbers = Float64Array.from(this.solved);
    for (const [name, step] of changes) {
      const slope = this.slopes.get(`${this.form} ${name}`);
      if (slope)
        for (let k = 0; k < slope.places.length; k++) numbers[slope.places[k]] += step * slope.values[k];
    }
    for (const part of this.parts) {
      const end = part.at + part.count;
      let moved = false;
      for (let k = part.at; k < end && !moved; k++) moved = Math.abs(numbers[k] - this.drawn[k]) > UNSEEN;
      if (!moved) continue;
      this.write(part, numbers);
      for (let k = part.at; k < end; k++) this.drawn[k] = numbers[k];
    }
  }

  write({ element, at, kind, letters, end }, numbers) {
    const n = (k) => Math.round(numbers[at + k] * 1000) / 1000;
    if (kind === "path") {
      let d = "";
      for (let k = 0; k < letters.length; k++) d += `${letters[k]}${n(2 * k)} ${n(2 * k + 1)}`;
      element.setAttribute("d", d + end);
    } else {
      const names = { circle: ["cx", "cy", "r"], text: ["x", "y"], line: ["x1", "y1", "x2", "y2"] }[kind];
      names.forEach((name, k) => element.setAttribute(name, n(k)));
    }
  }
}

async function painted(svg, scale) {
  const image = new Image();
  image.src = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
  await image.decode();
  const canvas = make("canvas", { width: Math.round(image.naturalWidth * scale), height: Math.round(image.naturalHeight * scale) });
  const ground = canvas.getContext("2d");
  ground.fillStyle = "#ffffff";
  ground.fillRect(0, 0, canvas.width, canvas.height);
  ground.drawImage(image, 0, 0, canvas.width, canvas.height);
  URL.revokeObjectURL(image.src);
  return new Promise((done) => canvas.toBlob(done, "image/png"));
}

function places(value) {
  const text = String(Number(value.toFixed(3)));
  return text.includes(".") ? text.length - text.indexOf(".") - 1 : 0;
}

function read(view, Kind) {
  return new Kind(view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength));
}

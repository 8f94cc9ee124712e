// Elements of a page, and numbers as Python sends and shows them.

const SVG = "http://www.w3.org/2000/svg";

/** HTML element with attributes and children; an attribute that is false, null or undefined is left out. */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes))
    if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value === true ? "" : value);
  element.append(...children);
  return element;
}

/** SVG element with attributes. */
export function shape(tag, attributes) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

/** How many digits after the point a number needs, three at most. */
export function decimals(value) {
  const text = String(Number(value.toFixed(3)));
  return text.includes(".") ? text.length - text.indexOf(".") - 1 : 0;
}

/** Numbers of a message's buffer, such as a Float32Array; copied, since a view may begin anywhere in its buffer. */
export function numbersOf(view, Kind) {
  return new Kind(view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength));
}

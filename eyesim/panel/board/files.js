// Pictures painted in the page, and files that it saves.

import { make } from "./dom.js";

/** PNG file (a Blob) of an SVG text, painted on white, `scale` times as large as it says. */
export async function paint(svg, scale) {
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

/** Have the browser save a Blob under a name. */
export function save(blob, name) {
  const link = make("a", { href: URL.createObjectURL(blob), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

import { Plate } from "/scripts/plate.js";
import { equal, press, test } from "./check.js";

const SPEC = { kind: "plate", name: "points", words: "Photograph", address: "data:,", width: 400, height: 200, chooser: "what",
  kinds: { limbus: ["L", "#005b94", "edge"], line1: ["a", "#006b4f", "line"], mark1: ["1", "#8a1020", "spot"] },
  choices: ["limbus", "line1", "mark1"], alt: "An eye.", hint: "Click to set a point." };

function set() {
  const board = { id: "b", values: { what: "limbus" }, changes: [] };
  const plate = new Plate(board, SPEC);
  board.change = (name, value) => {
    board.changes.push([name, value]);
    if (name === "points") plate.show(value);
    else board.values[name] = value;
  };
  document.body.append(plate.element);
  return { board, plate, last: () => board.changes.at(-1) };
}

test("the cross begins in the middle, is moved by arrows, and stays on the photograph", () => {
  const { plate } = set();
  equal(plate.at, [200, 100]);
  press(plate.frame, "ArrowRight");
  press(plate.frame, "ArrowUp", { shiftKey: true });
  equal(plate.at, [201, 90]);
  for (let i = 0; i < 30; i++) press(plate.frame, "ArrowUp", { shiftKey: true });
  for (let i = 0; i < 60; i++) press(plate.frame, "ArrowLeft", { shiftKey: true });
  equal(plate.at, [0, 0]);
  equal(plate.place.textContent, "The cross is at 0, 0 px.");
});

test("Enter sets a point on what is chosen, Backspace takes the last one back", () => {
  const { plate, board, last } = set();
  press(plate.frame, "Enter");
  press(plate.frame, "3");
  press(plate.frame, "ArrowDown");
  press(plate.frame, " ");
  equal(last(), ["points", { points: [["limbus", 200, 100], ["mark1", 200, 101]], edges: [] }]);
  press(plate.frame, "Backspace");
  equal(last()[1].points, [["limbus", 200, 100]]);
  equal(board.values.what, "mark1");
});

test("keys that it knows go no further, others do", () => {
  const { plate } = set();
  equal(press(plate.frame, "Enter"), { prevented: true, passed: false });
  equal(press(plate.frame, "x"), { prevented: false, passed: true });
  equal(press(plate.frame, "9"), { prevented: false, passed: true }); // there is no ninth kind
  equal(press(plate.frame, "Enter", { ctrlKey: true }), { prevented: false, passed: true });
});

test("a click sets a point where it is on the photograph, however large that is shown", () => {
  const { plate, last } = set();
  plate.overlay.style.cssText = "position: fixed; left: 50px; top: 20px; width: 200px; height: 100px";
  plate.frame.dispatchEvent(new PointerEvent("pointerdown", { clientX: 100, clientY: 45.1, button: 0 }));
  equal(last()[1].points, [["limbus", 100, 50.2]]);
  plate.frame.dispatchEvent(new PointerEvent("pointerdown", { clientX: 100, clientY: 45, button: 2 }));
  equal(last()[1].points.length, 1);
});

test("one that is switched off changes nothing", () => {
  const { plate, board } = set();
  plate.able = false;
  press(plate.frame, "Enter");
  equal(board.changes, []);
});

test("points of an edge are numbered, those of a line joined, edges drawn as Python says", () => {
  const { plate } = set();
  plate.show({ points: [["limbus", 10, 10], ["line1", 0, 0], ["limbus", 20, 10], ["line1", 30, 40]],
    edges: [[200, 100, 80, 60, 15]] });
  const words = [...plate.overlay.querySelectorAll("text")].map((word) => word.textContent);
  equal(words, ["L1", "a", "L2", "a"]);
  const line = plate.overlay.querySelector("line");
  equal(["x1", "y1", "x2", "y2"].map((name) => line.getAttribute(name)), ["0", "0", "30", "40"]);
  equal(plate.overlay.querySelector("ellipse").getAttribute("transform"), "rotate(15 200 100)");
});

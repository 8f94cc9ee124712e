import { Stage } from "/scripts/stage.js";
import { equal, near, test } from "./check.js";

const SVG = '<svg aria-label="old"><desc>old</desc><path d="M0 0L1 0Z"/><circle cx="2" cy="3" r="4"/>' +
  '<text x="5" y="6">one</text><line x1="7" y1="8" x2="9" y2="10"/></svg>';
const NUMBERS = Float32Array.from([0, 0, 1, 0, 2, 3, 4, 5, 6, 7, 8, 9, 10]);

function shown() {
  const element = document.createElement("div"), stage = new Stage(element);
  stage.replace(SVG, 1, NUMBERS);
  return { element, stage, part: (name) => element.querySelector(name) };
}

function slope(places, values) {
  return { places: Uint32Array.from(places), values: Float32Array.from(values) };
}

const numbersIn = (text) => text.match(/-?[0-9.]+/g).map(Number);

test("a picture moves by slope times step, and nothing else of it moves", () => {
  const { element, stage, part } = shown(), before = element.innerHTML;
  stage.learn(1, "dip", slope([2, 4], [0.5, -1]));
  stage.draw([["dip", 2]]);
  near(numbersIn(part("path").getAttribute("d")), [0, 0, 2, 0]);
  equal(part("circle").getAttribute("cx"), "0");
  equal([part("circle").getAttribute("cy"), part("text").getAttribute("x")], ["3", "5"]);
  stage.draw([]);
  equal(element.innerHTML, before);
});

test("steps of several controls add up, also where both move one number", () => {
  const { stage, part } = shown();
  stage.learn(1, "dip", slope([6], [1]));
  stage.learn(1, "mark", slope([6, 7], [10, 1]));
  stage.draw([["dip", 1], ["mark", 0.5], ["unknown", 9]]);
  equal([part("circle").getAttribute("r"), part("text").getAttribute("x")], ["10", "5.5"]);
});

test("a solved picture takes the place of what was drawn ahead", () => {
  const { element, stage, part } = shown();
  stage.learn(1, "dip", slope([4], [1]));
  stage.draw([["dip", 3]]);
  const solved = NUMBERS.map((n) => n + 1);
  equal(stage.update(1, solved, ["two"], "new"), true);
  stage.draw([]);
  equal(part("circle").getAttribute("cx"), "3");
  equal([part("text").textContent, part("desc").textContent, element.firstElementChild.getAttribute("aria-label")],
    ["two", "new", "new"]);
  near(numbersIn(part("path").getAttribute("d")), [1, 1, 2, 1]);
});

test("a picture of another form is refused, and slopes of an old form go", () => {
  const { element, stage, part } = shown(), before = element.innerHTML;
  equal(stage.update(2, NUMBERS, ["two"], "new"), false);
  equal(element.innerHTML, before);
  stage.learn(1, "dip", slope([4], [1]));
  stage.learn(2, "dip", slope([4], [100])); // may come before its picture
  equal(stage.knows("dip"), true);
  stage.draw([["dip", 1]]);
  equal(part("circle").getAttribute("cx"), "3");
  stage.replace(SVG, 2, NUMBERS);
  equal([stage.slopes.size, stage.knows("dip"), stage.knows("mark")], [1, true, false]);
  stage.draw([["dip", 1]]);
  equal(part("circle").getAttribute("cx"), "102");
});

test("what moves less than can be seen is not painted, but is not lost either", () => {
  const { stage, part } = shown();
  stage.learn(1, "dip", slope([4], [4e-4]));
  stage.draw([["dip", 1]]);
  equal(part("circle").getAttribute("cx"), "2");
  stage.draw([["dip", 5]]);
  equal(part("circle").getAttribute("cx"), "2.002");
});

test("nothing is drawn before there is a picture", () => {
  new Stage(document.createElement("div")).draw([["dip", 1]]);
});

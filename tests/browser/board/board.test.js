import { Board } from "/scripts/board.js";
import { equal, press, test } from "./check.js";

const CONTENT = { kind: "column", look: "", children: [
  { kind: "stage", name: "eye", look: "card" },
  { kind: "region", name: "readout", look: "" },
  { kind: "slider", name: "dip", words: "Dip", unit: "deg", low: 0, high: 40, step: 0.5, digits: 1, bare: false, look: "" },
  { kind: "tick", name: "straight", words: "Straight on", full: null, look: "" },
  { kind: "menu", name: "seat", words: "Seat", shown: "Seat", options: [["front", "in front"], ["superior", "above"]],
    arranges: true, look: "" },
  { kind: "field", name: "text", words: "State", hint: null, lines: null, eager: false, look: "" },
  { kind: "button", name: "hide", words: "Hide", key: "h", hint: null, toggle: "words", look: "" },
] };
const VALUES = { dip: 10, straight: false, seat: "front", text: "as planned", hide: false };
const PICTURE = '<svg aria-label="a lens"><circle cx="1" cy="2" r="3"/></svg>';

/** A board in the page, and Python played by the test: `sent` is what Python got, `say` is what it sends. */
function opened() {
  const sent = [], heard = [];
  const model = { get: () => ({ name: "Test", content: CONTENT, look: "", file: "test", whole: false }),
    on: (_, hear) => heard.push(hear), off: () => heard.pop(), send: (message) => sent.push(message) };
  const board = new Board(model, document.body);
  const say = (message, buffers = []) => heard.forEach((hear) => hear(message, buffers.map((one) => new DataView(one.buffer))));
  const show = (more = {}, turn = 0) => say({ kind: "shown", turns: { [board.id]: turn }, values: VALUES, fault: "", ...more });
  say({ kind: "shown", turns: {}, values: VALUES, fault: "", pictures: { eye: { form: 7, buffer: 0, svg: PICTURE } } },
    [Float32Array.from([1, 2, 3])]);
  return { board, sent, say, show, range: document.querySelector("input[type=range]"),
    typed: document.querySelector(".eyesim-typed"), circle: () => document.querySelector("circle") };
}

function move(range, value) {
  range.value = value;
  range.dispatchEvent(new Event("input"));
}

test("it says hello, and shows what Python gives", () => {
  const { sent, range, typed } = opened();
  equal(sent[0].kind, "hello");
  equal([range.value, typed.value, range.getAttribute("aria-valuetext")], ["10", "10.0", "10.0 deg"]);
  equal(document.querySelector("label").textContent, "Dip [deg]");
  equal(document.querySelector(".eyesim-board").dataset.seat, "front");
});

test("a slider in hand moves the picture before Python answers, and its answer takes that place", () => {
  const { sent, say, range, circle, board } = opened();
  range.dispatchEvent(new FocusEvent("focusin", { bubbles: true }));
  equal(sent.at(-1), { kind: "slope", name: "dip", view: board.id });
  say({ kind: "slope", name: "dip", stages: { eye: { form: 7, buffer: 0 } } }, [Uint32Array.from([0]), Float32Array.from([0.5])]);
  move(range, 12);
  equal(circle().getAttribute("cx"), "2");
  equal(sent.at(-1), { kind: "set", name: "dip", value: 12, turn: 1, view: board.id });
  const picture = { form: 7, buffer: 0, words: [], sentence: "moved" };
  say({ kind: "shown", turns: { [board.id]: 1 }, values: { ...VALUES, dip: 12 }, fault: "", pictures: { eye: picture } },
    [Float32Array.from([2.25, 2, 3])]);
  equal(circle().getAttribute("cx"), "2.25");
  const { asked, settled } = document.querySelector(".eyesim-board").dataset;
  equal([asked, settled], ["1", "1"]);
});

test("an answer to an older turn leaves what is in hand where the hand has it", () => {
  const { show, range } = opened();
  move(range, 12);
  move(range, 13);
  show({ values: { ...VALUES, dip: 12 } }, 1);
  equal(range.value, "13");
  show({ values: { ...VALUES, dip: 13 } }, 2);
  equal(range.value, "13");
});

test("what is typed goes to Python as text; refused, it stays to be mended", () => {
  const { sent, show, typed } = opened();
  typed.value = "fifteen";
  typed.dispatchEvent(new Event("change"));
  equal([sent.at(-1).kind, sent.at(-1).value], ["typed", "fifteen"]);
  show({ refused: "dip", fault: "A number is wanted." }, 1);
  equal([typed.value, typed.getAttribute("aria-invalid")], ["fifteen", "true"]);
  equal(document.querySelector("[role=alert]").textContent, "A number is wanted.");
  show({ values: { ...VALUES, dip: 15 } }, 1);
  equal([typed.value, typed.getAttribute("aria-invalid")], ["15.0", null]);
});

test("arrows in a slider's field step, and stop at its ends", () => {
  const { typed, range, show } = opened();
  show({ values: { ...VALUES, dip: 39.7 } });
  press(typed, "ArrowUp");
  equal(range.value, "40");
  press(typed, "ArrowDown");
  equal([range.value, typed.value], ["39.5", "39.5"]);
});

test("controls are switched off, taken away and renamed by Python", () => {
  const { show, range, typed } = opened();
  show({ off: ["dip"], gone: ["straight"], words: { hide: "Show" }, busy: ["readout"] });
  equal([range.disabled, typed.disabled], [true, true]);
  equal(document.querySelector(".eyesim-tick").hidden, true);
  equal(document.querySelector("button span").textContent, "Show");
  equal(document.querySelector(".eyesim-readout").getAttribute("aria-busy"), "true");
  show({ off: [], gone: [] });
  equal([range.disabled, document.querySelector(".eyesim-tick").hidden], [false, false]);
});

test("its key toggles a button, and a button that is off is not pressed", () => {
  const { board, sent, show } = opened();
  press(board.root, "h");
  equal([sent.at(-1).name, sent.at(-1).value], ["hide", true]);
  show({ off: ["hide"] }, 1);
  const before = sent.length;
  press(board.root, "h");
  equal(sent.length, before);
});

test("a picture of a form that the page does not have is asked for anew", () => {
  const { sent, say } = opened();
  say({ kind: "shown", turns: {}, values: VALUES, fault: "", pictures: { eye: { form: 8, buffer: 0, words: [], sentence: "" } } },
    [Float32Array.from([1, 2, 3])]);
  equal(sent.at(-1).kind, "hello");
});

test("what another page asked for is not its own", () => {
  const { say, range } = opened();
  say({ kind: "shown", view: "another", turns: {}, values: { ...VALUES, dip: 20 }, fault: "" });
  equal(range.value, "10");
});

test("HTML of a region that stays the same is not written again", () => {
  const { show } = opened();
  show({ regions: { readout: "<p>one</p>" } });
  const there = document.querySelector(".eyesim-readout p");
  show({ regions: { readout: "<p>one</p>" } });
  equal(document.querySelector(".eyesim-readout p") === there, true);
});

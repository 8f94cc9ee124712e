import { Outbox } from "/scripts/outbox.js";
import { equal, test } from "./check.js";

const set = (value) => ({ kind: "set", name: "dip", value });

function filled() {
  const sent = [], box = new Outbox((message) => sent.push([message.turn, message.value]), 3);
  return { sent, box };
}

test("few changes are on their way, and of a slider only the newest waits", () => {
  const { sent, box } = filled();
  for (let value = 1; value <= 10; value++) box.post("dip", set(value));
  equal(sent, [[1, 1], [2, 2], [3, 3]]);
  equal(box.answer(1), true);
  box.flush();
  equal(sent.slice(3), [[10, 10]]);
  equal(box.open, true);
  box.answer(10);
  equal(box.open, false);
});

test("every press is sent, in the order in which things were done", () => {
  const { sent, box } = filled();
  for (let i = 0; i < 5; i++) box.post("undo", { kind: "press", name: "undo", value: `press ${i}` });
  box.post("dip", set(1));
  box.post("undo", { kind: "press", name: "undo", value: "last" });
  box.post("dip", set(2));
  box.answer(3);
  box.flush();
  box.answer(6);
  box.flush();
  equal(sent.map(([, value]) => value), ["press 0", "press 1", "press 2", "press 3", "press 4", "last", 2]);
});

test("an answer that comes late is no news", () => {
  const { box } = filled();
  box.post("dip", set(1));
  box.post("dip", set(2));
  equal([box.answer(2), box.answer(1), box.answered], [true, false, 2]);
});

test("a control that a hand has moved on is known until it is answered", () => {
  const { box } = filled();
  box.post("dip", set(1));
  box.post("mark", { kind: "set", name: "mark", value: 1 });
  equal([box.isChangedSince("dip", 0), box.isChangedSince("dip", 1), box.isChangedSince("mark", 1)], [true, false, true]);
  equal(box.isChangedSince("tunnel", 0), false);
});

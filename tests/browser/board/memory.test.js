import { recall, remember } from "/scripts/memory.js";
import { equal, test } from "./check.js";

test("what is remembered comes back under its name alone", () => {
  remember("here", "text");
  equal([recall("here"), recall("there")], ["text", undefined]);
});

test("a store that is full keeps what it had, and nothing fails", () => {
  remember("here", "text");
  remember("there", "x".repeat(20_000_000));
  equal([recall("here"), recall("there")], ["text", undefined]);
});

// Keys of a board: those of its buttons work where nothing is being typed, and none reaches a shortcut of the host.

/** Whether keys belong to the control they are pressed in: what is typed in it or chosen by letters. */
export function takesLetters(target) {
  return target.matches("input:not([type=range],[type=radio],[type=checkbox]),select,textarea");
}

/** Keys that press the buttons of a board. */
export class Shortcuts {
  /** Of a board that is the `whole` page, keys work wherever one is; `enabled()` says whether they work now. */
  constructor(root, whole, enabled) {
    this.presses = new Map();
    this.pressed = (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || takesLetters(event.target) || !enabled()) return;
      const press = this.presses.get((event.key || "").toLowerCase());
      if (press === undefined || event.repeat) return;
      event.preventDefault();
      press();
    };
    if (whole) document.addEventListener("keydown", this.pressed);
    root.addEventListener("keydown", (event) => {
      if (!whole) this.pressed(event);
      if (!whole || takesLetters(event.target)) event.stopPropagation();
    });
  }

  /** Have a key press a button. */
  add(key, press) {
    this.presses.set(key.toLowerCase(), press);
  }

  /** Listen no more. */
  close() {
    document.removeEventListener("keydown", this.pressed);
  }
}

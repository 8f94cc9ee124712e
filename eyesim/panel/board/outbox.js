// What a page has asked of Python, and what of it is answered. It knows neither page nor kernel.

/**
 * Changes on their way to Python, each with a turn that counts them.
 *
 * A hand moves a slider more often than Python can answer. So few changes are on their way at a time; the newest of
 * each slider waits, and older ones that were not sent yet are dropped.
 */
export class Outbox {
  /** `send` is called with each message when its time has come; `most` are on their way at a time. */
  constructor(send, most = 3) {
    this.send = send;
    this.most = most;
    this.turn = 0;
    this.answered = 0;
    this.newest = new Map(); // by control, the turn of its newest change
    this.waiting = new Map(); // by control, its newest change, not sent yet
    this.onWay = []; // turns sent and not answered yet
  }

  /** Whether something has no answer yet. */
  get open() {
    return this.answered < this.turn;
  }

  /** Send a change of a control as soon as there is room. Of a slider the newest counts, of presses each. */
  post(name, message) {
    this.newest.set(name, ++this.turn);
    const key = message.kind === "set" ? name : `${name} ${this.turn}`;
    this.waiting.delete(key); // so that it goes last
    this.waiting.set(key, { ...message, turn: this.turn });
    this.flush();
  }

  /** Note that all up to a turn is answered; say whether that is news. The next are sent by `flush`. */
  answer(turn) {
    const news = turn > this.answered;
    this.answered = Math.max(this.answered, turn);
    return news;
  }

  /** Whether a control was changed after a turn: its answer to that turn is of no use any more. */
  isChangedSince(name, turn) {
    return (this.newest.get(name) || 0) > turn;
  }

  /** Send what waits, as far as there is room. */
  flush() {
    this.onWay = this.onWay.filter((turn) => turn > this.answered);
    for (const [key, message] of this.waiting) {
      if (this.onWay.length >= this.most) return;
      this.waiting.delete(key);
      this.onWay.push(message.turn);
      this.send(message);
    }
  }
}

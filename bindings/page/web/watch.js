// SPDX-License-Identifier: MIT
// A stopwatch for one step. It keeps the hour at which it was started, not a count, so that a page that sleeps or is closed loses nothing.
import { h } from "./controls.js";

/** "1:05" */
export const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

/** `kept`: {since, before, what} or null; `keep(kept)` hears of changes; `done(text)` gets "strop 20 laps: 42 s". */
export class Watch {
  constructor(keep, done) {
    this.kept = null;
    this.keep = keep;
    this.done = done;
    this.shown = h("span", { class: "clock", role: "timer" }, "0:00");
    this.button = h("button", { type: "button", onclick: () => (this.kept?.since ? this.pause() : this.start()) }, "Start the watch");
    this.end = h("button", { type: "button", disabled: true, onclick: () => this.finish() }, "Note the time");
    this.element = h("p", { class: "watch" }, this.shown, this.button, this.end);
    this.what = "";
  }

  seconds() {
    if (!this.kept) return 0;
    return this.kept.before + (this.kept.since ? (Date.now() - this.kept.since) / 1000 : 0);
  }

  take(kept) {
    this.kept = kept;
    this.show();
  }

  /** What is being timed, where the watch is not going already. */
  of(what) {
    if (!this.kept) this.what = what;
  }

  start() {
    this.kept = { since: Date.now(), before: this.seconds(), what: this.kept?.what ?? this.what };
    this.keep(this.kept);
    this.show();
  }

  pause() {
    this.kept = { since: null, before: this.seconds(), what: this.kept.what };
    this.keep(this.kept);
    this.show();
  }

  finish() {
    const text = `${this.kept.what || "step"}: ${Math.round(this.seconds())} s`;
    this.kept = null;
    this.keep(null);
    this.show();
    this.done(text);
  }

  show() {
    clearTimeout(this.tick);
    this.shown.textContent = clock(this.seconds());
    this.button.textContent = this.kept?.since ? "Stop the watch" : this.kept ? "Go on" : "Start the watch";
    this.end.disabled = !this.kept;
    if (this.kept?.since) this.tick = setTimeout(() => this.show(), 250);
  }
}

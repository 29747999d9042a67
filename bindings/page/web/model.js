// SPDX-License-Identifier: MIT
// The model: at once on this thread for what is dragged, on another for what takes longer.
import { replyTo } from "./door.js";
import { bytesOfText } from "./text85.js";

/** What the module found wrong; `faults` are its diagnostics. */
export class Faults extends Error {
  constructor(faults) {
    super(faults.map((f) => f.text).join("\n"));
    this.faults = faults.map((f) => ({ ...f, text: f.text.replace(` [${f.code}]`, "") })); // codes are for programs
  }
}

/** Calls the module. Throws Faults. */
export function callModule(module, what, request) {
  const reply = JSON.parse(replyTo(module, what, request));
  if (reply.errors) throw new Faults(reply.errors);
  return reply.answer;
}

/** The code of the module out of its packed text. */
export async function unpacked(text) {
  const packed = new Blob([bytesOfText(text)]).stream();
  const code = new Response(packed.pipeThrough(new DecompressionStream("gzip")), { headers: { "Content-Type": "application/wasm" } });
  return WebAssembly.compileStreaming(code);
}

/** A second thread with a module of its own. One call at a time: a new one of the same `lane` takes the place of one that waits. */
export class Background {
  /** `code` is that of the module; `moduleText` and `workerText` are the scripts of the module and of worker.js. */
  constructor(code, moduleText, workerText) {
    this.code = code;
    this.url = URL.createObjectURL(new Blob([moduleText, "\n;\n", workerText], { type: "text/javascript" }));
    this.next = 1;
    this.waiting = [];
    this.running = null;
  }

  /** `calls`: [[what, request], …], the answer is that of the last. `told(stage, done, all)` hears of progress. */
  ask(lane, calls, told = () => {}) {
    return new Promise((resolve, reject) => {
      this.waiting = this.waiting.filter((w) => {
        if (w.lane === lane) w.reject(new Error("replaced"));
        return w.lane !== lane;
      });
      this.waiting.push({ id: this.next++, lane, calls, told, resolve, reject });
      this.start();
    });
  }

  /** Ends what runs in this lane. */
  stop(lane) {
    if (this.running?.lane !== lane) return;
    this.worker.terminate();
    this.worker = null;
    this.running.reject(new Error("stopped"));
    this.running = null;
    this.start();
  }

  start() {
    if (this.running || this.waiting.length === 0) return;
    if (!this.worker) {
      this.worker = new Worker(this.url);
      this.worker.onmessage = ({ data }) => this.heard(data);
      this.worker.onerror = (event) => this.heard({ id: this.running?.id, failed: event.message });
    }
    this.running = this.waiting.shift();
    this.worker.postMessage({ id: this.running.id, calls: this.running.calls, code: this.code });
  }

  heard(data) {
    const job = this.running;
    if (!job || job.id !== data.id) return;
    if (data.stage !== undefined) return job.told(data.stage, data.done, data.all);
    this.running = null;
    if (data.failed !== undefined) {
      job.reject(new Error(data.failed));
    } else {
      const reply = JSON.parse(data.reply);
      if (reply.errors) job.reject(new Faults(reply.errors));
      else job.resolve(reply.answer);
    }
    this.start();
  }
}

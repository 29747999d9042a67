// SPDX-License-Identifier: MIT
// A photograph of an edge: two points on a bar of known length set the scale, three on the apex a circle. What is measured goes into the log.
import { digits, h } from "./controls.js";
import { momentName } from "./log.js";
import { apexRadius, circleThrough, scaleOf } from "./radius.js";

const zooms = [1, 2, 4, 8];

export class PhotoPanel {
  /** `bench` has `store`, `log` (the panel of the log, which knows edge, moment and who reads). */
  constructor(bench, box) {
    this.bench = bench;
    this.bars = []; // lengths that were clicked, each two points
    this.circles = []; // three points each
    this.points = []; // of what is being clicked
    this.mode = "bar";
    this.zoom = 1;
    this.at = null; // of the keyboard's cross
    this.build(box);
  }

  build(box) {
    this.file = h("input", { type: "file", id: "photo-file", accept: "image/*" });
    this.file.addEventListener("change", () => this.file.files[0] && this.open(this.file.files[0]));
    this.canvas = h("canvas", { id: "photo-canvas", tabIndex: 0, role: "application", "aria-label": "The photograph. Tap to set a point; with the keyboard: arrows move the cross, Enter sets a point.", "aria-describedby": "photo-told" });
    this.frame = h("div", { class: "photo-frame", hidden: true }, this.canvas);
    this.told = h("p", { id: "photo-told", role: "status" }, "Choose a photograph or micrograph that shows the edge from its end, and a bar of known length.");
    this.bar = h("input", { type: "number", id: "photo-bar", min: 0, step: "any", inputMode: "decimal", value: "10" });
    this.barSd = h("input", { type: "number", id: "photo-bar-sd", min: 0, step: "any", inputMode: "decimal", value: "0" });
    for (const input of [this.bar, this.barSd]) input.addEventListener("input", () => this.measured());
    const mode = (value, label) => h("label", {}, h("input", { type: "radio", name: "photo-mode", value, checked: value === this.mode, onchange: () => {
      this.mode = value;
      this.points = [];
      this.draw();
      this.say();
    } }), label);
    this.zoomer = h("select", { id: "photo-zoom" }, zooms.map((z) => h("option", { value: z }, `× ${z}`)));
    this.zoomer.addEventListener("change", () => {
      this.zoom = Number(this.zoomer.value);
      this.fit();
    });
    this.result = h("p", { id: "photo-result", class: "headline" });
    this.write = h("button", { type: "button", id: "photo-write", disabled: true, onclick: () => this.record() }, "Write it into the log");
    this.tools = h("div", { hidden: true },
      h("fieldset", { class: "choices" }, h("legend", {}, "Tap now"), mode("bar", "both ends of the bar"), mode("circle", "three points on the apex")),
      h("div", { class: "row" },
        h("div", { class: "field" }, h("label", { htmlFor: "photo-bar" }, "The bar is, µm"), this.bar),
        h("div", { class: "field" }, h("label", { htmlFor: "photo-bar-sd" }, "give or take, µm"), this.barSd),
        h("div", { class: "field" }, h("label", { htmlFor: "photo-zoom" }, "Enlarged"), this.zoomer)),
      h("div", { class: "buttons" }, h("button", { type: "button", id: "photo-undo", onclick: () => this.undo() }, "Undo a point"),
        h("button", { type: "button", onclick: () => this.clear() }, "Begin anew")));
    this.kept = h("div", { id: "photo-kept" });
    box.replaceChildren(h("div", { class: "field" }, h("label", { htmlFor: "photo-file" }, "Photograph"), this.file), this.told, this.tools, this.frame, this.result,
      h("div", { class: "buttons" }, this.write), this.kept);
    this.canvas.addEventListener("click", (event) => {
      const place = this.canvas.getBoundingClientRect();
      this.set({ x: ((event.clientX - place.x) / place.width) * this.image.width, y: ((event.clientY - place.y) / place.height) * this.image.height });
    });
    this.canvas.addEventListener("keydown", (event) => this.key(event));
  }

  async open(file) {
    try {
      this.image = await createImageBitmap(file);
    } catch {
      this.told.textContent = `${file.name} is no picture that this browser can show. JPEG, PNG and WebP are.`;
      return;
    }
    this.blob = file;
    this.name = file.name;
    this.frame.hidden = this.tools.hidden = false;
    this.clear();
    this.fit();
  }

  /** As wide as the frame, times the enlargement; drawn at the photograph's own pixels. */
  fit() {
    if (!this.image) return;
    this.canvas.width = this.image.width;
    this.canvas.height = this.image.height;
    this.canvas.style.width = `${this.zoom * 100}%`;
    this.draw();
  }

  set(point) {
    this.points.push(point);
    if (this.mode === "bar" && this.points.length === 2) {
      this.bars.push(this.points);
      this.points = [];
      if (this.bars.length === 1) { // the first bar is followed by the apex
        this.mode = "circle";
        document.querySelector("[name=photo-mode][value=circle]").checked = true;
      }
    } else if (this.mode === "circle" && this.points.length === 3) {
      if (circleThrough(this.points)) this.circles.push(this.points);
      else this.straight = true;
      this.points = [];
    }
    this.draw();
    this.say();
    this.measured();
  }

  undo() {
    if (this.points.length > 0) this.points.pop();
    else if (this.mode === "circle" && this.circles.length > 0) this.points = this.circles.pop().slice(0, 2);
    else if (this.bars.length > 0) this.points = this.bars.pop().slice(0, 1);
    this.draw();
    this.say();
    this.measured();
  }

  clear() {
    this.bars = [];
    this.circles = [];
    this.points = [];
    this.mode = "bar";
    document.querySelector("[name=photo-mode][value=bar]").checked = true;
    this.draw();
    this.say();
    this.measured();
  }

  key(event) {
    const step = (event.shiftKey ? 10 : 1) * Math.max(1, this.image.width / 400 / this.zoom);
    this.at ??= { x: this.image.width / 2, y: this.image.height / 2 };
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (moves[event.key]) {
      this.at.x = Math.min(this.image.width, Math.max(0, this.at.x + moves[event.key][0]));
      this.at.y = Math.min(this.image.height, Math.max(0, this.at.y + moves[event.key][1]));
      this.draw();
    } else if (event.key === "Enter" || event.key === " ") {
      this.set({ ...this.at });
    } else {
      return;
    }
    event.preventDefault();
  }

  say() {
    const more = this.mode === "bar" ? `Tap ${this.points.length === 0 ? "one end" : "the other end"} of the bar.` : `Tap point ${this.points.length + 1} of 3 on the curve of the apex, far apart.`;
    const again = this.circles.length === 0 ? "" : this.circles.length < 3 ? ` ${this.circles.length} measured: do it again, at least three times in all; how they differ is its uncertainty.` : ` ${this.circles.length} measured.`;
    this.told.textContent = `${this.straight ? "Those three points lie on one line, which is no circle. " : ""}${more}${again}`;
    this.straight = false;
  }

  measured() {
    const bar = this.bar.valueAsNumber, sd = this.barSd.valueAsNumber || 0;
    this.found = null;
    if (this.bars.length > 0 && this.circles.length > 0 && bar > 0 && sd >= 0) {
      const lengths = this.bars.map(([a, b]) => Math.hypot(a.x - b.x, a.y - b.y));
      if (Math.min(...lengths) > 0) this.found = apexRadius(this.circles, scaleOf(lengths, bar, sd));
    }
    this.write.disabled = !this.found;
    this.result.textContent = this.found
      ? `Apex radius ${digits(this.found.radius_um)} ± ${digits(this.found.sd_um, 2)} µm (one standard deviation; ${digits(100 * this.found.from_clicks, 2)} % from the clicks, ${digits(100 * this.found.from_scale, 2)} % from the scale), of ${this.found.count} ${this.found.count === 1 ? "circle" : "circles"}.`
      : "";
  }

  draw() {
    if (!this.image) return;
    const pen = this.canvas.getContext("2d");
    pen.drawImage(this.image, 0, 0);
    const thin = Math.max(1, this.image.width / 400 / this.zoom);
    const line = (colour, path) => {
      for (const [style, width] of [["#000", 3 * thin], [colour, 1.5 * thin]]) {
        pen.strokeStyle = style;
        pen.lineWidth = width;
        pen.beginPath();
        path();
        pen.stroke();
      }
    };
    const cross = (p, colour) => line(colour, () => {
      pen.moveTo(p.x - 5 * thin, p.y);
      pen.lineTo(p.x + 5 * thin, p.y);
      pen.moveTo(p.x, p.y - 5 * thin);
      pen.lineTo(p.x, p.y + 5 * thin);
    });
    for (const [a, b] of this.bars) line("#9fd0ff", () => {
      pen.moveTo(a.x, a.y);
      pen.lineTo(b.x, b.y);
    });
    for (const points of this.circles) {
      const c = circleThrough(points);
      line("#ffd27f", () => pen.arc(c.x, c.y, c.r, 0, 2 * Math.PI));
    }
    for (const p of this.points) cross(p, "#fff");
    if (this.at) cross(this.at, "#ff9fd0");
  }

  /** The measurement, with the photograph beside it, for the edge and moment that the log is at. */
  async record() {
    const { log, store } = this.bench;
    const edge = log.edge(), moment = log.moment();
    if (!edge || !moment || !this.found) return;
    const row = { ...log.row(), apex_radius_um: this.found.radius_um.toPrecision(4), apex_radius_sd_um: this.found.sd_um.toPrecision(2) };
    row.note = [row.note, `photograph ${this.name}, ${this.found.count} circles`].filter(Boolean).join("; ");
    const [entry] = await store.add([row], "photograph");
    const kept = await store.keep(`photo:${entry.id}`, { name: this.name, picture: this.blob, bars: this.bars, circles: this.circles, bar_um: this.bar.valueAsNumber, bar_sd_um: this.barSd.valueAsNumber || 0 });
    this.told.textContent = `Written into the log for ${log.blind ? edge.code : edge.edge}, ${momentName(moment)}.${kept ? "" : " The photograph itself could not be kept in this browser: keep its file."}`;
    await this.showKept();
  }

  async showKept() {
    const photos = Object.values(await this.bench.store.keptUnder("photo:"));
    const entries = new Map(this.bench.store.all().map((e) => [e.id, e]));
    this.kept.replaceChildren(...(photos.length === 0 ? [] : [h("p", {}, "Photographs in this browser:"), h("ul", {}, photos.map((p) => {
      const entry = entries.get(p.key.slice(6));
      return h("li", {}, `${p.value.name}: ${entry ? this.bench.log.says(entry.row) : "its reading is gone"} `, h("button", { type: "button", class: "small", "aria-label": `look again at ${p.value.name}`, onclick: async () => {
        await this.open(new File([p.value.picture], p.value.name, { type: p.value.picture.type }));
        this.bars = p.value.bars;
        this.circles = p.value.circles;
        this.bar.value = p.value.bar_um;
        this.barSd.value = p.value.bar_sd_um;
        this.draw();
        this.measured();
      } }, "look again"));
    }))]));
  }
}

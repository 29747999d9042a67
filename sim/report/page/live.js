// SPDX-License-Identifier: MIT
// Charts to be looked at closely. Each .live block holds its numbers as JSON; without this script it stays hidden and the pictures
// above it say the same.
"use strict";
(function () {
  const tone = (name) => getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();

  const shown = (value) => (value == null ? "–" : String(+value.toPrecision(3)));

  // x of curve and points put together, as uPlot wants them
  function tables(line) {
    const curve = line.low ? [line.x, line.y, line.low, line.high] : [line.x, line.y];
    return line.point_x.length ? uPlot.join([curve, [line.point_x, line.point_y]]) : curve;
  }

  function options(chart, line, width) {
    const axis = { stroke: tone("text"), grid: { stroke: tone("rule"), width: 1 }, ticks: { stroke: tone("soft"), width: 1 } };
    const series = [
      { label: line.x_label, value: (_, v) => shown(v) },
      { label: chart.y_label, stroke: tone("ink"), width: 2, spanGaps: true, points: { show: false }, value: (_, v) => shown(v) },
    ];
    const bands = [];
    if (line.low) {
      for (const label of ["band from", "band to"])
        series.push({ label, stroke: tone("ink"), width: 0.5, spanGaps: true, points: { show: false }, value: (_, v) => shown(v) });
      bands.push({ series: [3, 2], fill: tone("ink") + "33" });
    }
    if (line.point_x.length)
      series.push({ label: "measured", stroke: tone("ochre"), paths: () => null, points: { show: true, size: 9, width: 2, fill: tone("paper") }, value: (_, v) => shown(v) });
    return {
      width,
      height: Math.round(Math.min(380, Math.max(240, 0.55 * width))),
      scales: { x: { time: false } },
      axes: [
        { ...axis, label: line.x_label },
        { ...axis, label: chart.y_label, size: 56 },
      ],
      series,
      bands,
      hooks: {
        draw: [
          (u) => {
            if (!(chart.limit > 0)) return;
            const y = u.valToPos(chart.limit, "y", true);
            if (y < u.bbox.top || y > u.bbox.top + u.bbox.height) return;
            u.ctx.save();
            u.ctx.strokeStyle = tone("text");
            u.ctx.setLineDash([8, 4]);
            u.ctx.beginPath();
            u.ctx.moveTo(u.bbox.left, y);
            u.ctx.lineTo(u.bbox.left + u.bbox.width, y);
            u.ctx.stroke();
            u.ctx.restore();
          },
        ],
      },
    };
  }

  function begin(block) {
    const chart = JSON.parse(block.querySelector("script").textContent);
    const button = block.querySelector("button"), panel = block.querySelector(".panel"), place = block.querySelector(".chart");
    const choice = block.querySelector("select");
    let plot = null;
    function draw() {
      if (plot) plot.destroy();
      const line = chart.lines[choice ? choice.selectedIndex : 0];
      plot = new uPlot(options(chart, line, place.clientWidth), tables(line), place);
      place.setAttribute("aria-label", chart.y_label + " against " + line.x_label + ": " + line.name + ". The tables have the numbers.");
    }
    button.addEventListener("click", () => {
      const open = panel.hidden;
      panel.hidden = !open;
      button.setAttribute("aria-expanded", String(open));
      if (open) draw();
    });
    if (choice) choice.addEventListener("change", draw);
    const again = () => { if (!panel.hidden) draw(); };
    window.addEventListener("resize", again);
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
    block.hidden = false;
  }

  document.querySelectorAll(".live").forEach(begin);

  // paper has no lids to open: what is folded is printed too
  let opened = [];
  window.addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details.part:not([open])")];
    opened.forEach((d) => { d.open = true; });
  });
  window.addEventListener("afterprint", () => opened.forEach((d) => { d.open = false; }));
})();

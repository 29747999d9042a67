// SPDX-License-Identifier: MIT
// Moves through the history of an edge, one cross-section at a time. Without this script, and on paper, they stand side by side.
"use strict";
(function () {
  function begin(row) {
    const frames = [...row.querySelectorAll(".moment")];
    if (frames.length < 2) return;
    const slider = document.createElement("div"), label = document.createElement("label"), input = document.createElement("input");
    const says = document.createElement("output"), button = document.createElement("button");
    slider.className = "slider";
    label.append("Through the history ", input);
    Object.assign(input, { type: "range", min: 0, max: frames.length - 1, step: 1, value: frames.length - 1 });
    button.type = "button";
    function show() {
      const at = Number(input.value), text = frames[at].dataset.says;
      frames.forEach((frame, i) => frame.classList.toggle("shown", i === at));
      says.textContent = text;
      input.setAttribute("aria-valuetext", text);
    }
    function alone(one) {
      row.classList.toggle("one", one);
      label.hidden = says.hidden = !one;
      button.textContent = one ? "Side by side" : "One at a time";
      button.setAttribute("aria-pressed", String(!one));
    }
    input.addEventListener("input", show);
    button.addEventListener("click", () => alone(!row.classList.contains("one")));
    slider.append(label, says, button);
    row.before(slider);
    show();
    alone(true);
  }
  document.querySelectorAll(".history").forEach(begin);
})();

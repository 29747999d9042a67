// SPDX-License-Identifier: MIT
// Unfolds what paper should show, for browsers whose style sheets cannot.
"use strict";
(function () {
  let unfolded = [];
  addEventListener("beforeprint", () => {
    unfolded = [...document.querySelectorAll("details.paper:not([open])")];
    for (const part of unfolded) part.open = true;
  });
  addEventListener("afterprint", () => {
    for (const part of unfolded) part.open = false;
    unfolded = [];
  });
})();

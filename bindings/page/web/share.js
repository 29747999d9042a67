// SPDX-License-Identifier: MIT
// A setting as a link: made of the bench, and taken from the address.
import { at, h } from "./controls.js";
import { linkOf, textOf } from "./link.js";
import { callModule, Faults } from "./model.js";

/** Shows a link that holds the setting. */
export async function share(bench) {
  const { state } = bench;
  const box = at("share-result");
  if (state.files.length > 0) {
    box.replaceChildren(h("p", {}, "This setting includes other files, which a link cannot carry: save the files and send them."));
    return;
  }
  const { readings, ...tree } = state.tree; // a link has no readings
  const link = location.href.replace(/#.*$/, "") + await linkOf(callModule(bench.module, "write", { tree }).text);
  const field = h("input", { type: "text", id: "share-link", readOnly: true, value: link, "aria-label": "The link" });
  const told = h("p", { role: "status" });
  box.replaceChildren(h("p", {}, `Whoever opens this link has the setting${readings ? ", without its readings" : ""}; all of it stands in the address (${link.length} characters), and no server sees it.`), field,
    h("div", { class: "buttons" }, h("button", { type: "button", onclick: async () => {
      try {
        await navigator.clipboard.writeText(link);
        told.textContent = "Copied.";
      } catch { // not every browser lets a page do that
        field.select();
        told.textContent = "Copy the marked text.";
      }
    } }, "Copy it")), told);
  field.focus();
  field.select();
}

/** The setting of the address, where it has one; what is wrong with a link is said, and the bench is as it would be without. Whether it was taken. */
export async function takeLink(bench) {
  let text = null;
  const refuse = (why) => {
    at("link-told").replaceChildren(h("p", {}, `The link's setting was not taken: ${why}. Ask for the link again, whole, or for the file.`));
    at("link-told").hidden = false;
    return false;
  };
  try {
    text = await textOf(location.hash);
  } catch (error) {
    return refuse(error.message);
  }
  if (text === null) return false;
  try {
    bench.load({ name: "link.toml", text });
    return true;
  } catch (error) {
    if (!(error instanceof Faults)) throw error;
    return refuse(error.faults.map((f) => f.text.trim()).join(" "));
  }
}

// SPDX-License-Identifier: MIT
// The second thread: it runs the calls it is sent, one after the other. A bundle of its own, with the script of the module before it.
import { fromCode, replyTo } from "./door.js";

let module = null;
self.onmessage = async ({ data }) => {
  const told = (stage, done, all) => self.postMessage({ id: data.id, stage, done, all });
  module ??= await self.arrisModule({ told, ...fromCode(data.code) });
  module.told = told;
  try {
    let reply = "";
    for (const [what, request] of data.calls) reply = replyTo(module, what, request);
    self.postMessage({ id: data.id, reply });
  } catch (error) {
    self.postMessage({ id: data.id, failed: String(error) });
  }
};

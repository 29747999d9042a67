// SPDX-License-Identifier: MIT
// The one door of the module, on either thread.

/** The module's reply to a call, as text: {"answer": …} or {"errors": [ … ]}. */
export const replyTo = (module, what, request) => module.ccall("arris_call", "string", ["string", "string"], [what, JSON.stringify(request)]);

/** What sets the module going from code that is compiled already. */
export const fromCode = (code) => ({
  instantiateWasm(imports, done) {
    WebAssembly.instantiate(code, imports).then((instance) => done(instance, code));
    return {};
  },
});

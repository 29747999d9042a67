// SPDX-License-Identifier: MIT
// The one door of the module, on either thread.

/** The module's reply to a call, as text: {"answer": …} or {"errors": [ … ]}. */
export const replyTo = (module, what, request) => module.ccall("arris_call", "string", ["string", "string"], [what, JSON.stringify(request)]);

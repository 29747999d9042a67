// SPDX-License-Identifier: MIT
// A setting as the part of an address behind its #: the TOML, packed, as letters. No server sees it.

const mark = "#setting=1."; // and the version of how it is packed
const most = 200_000; // characters of TOML: far beyond any bench, and little to unpack

const pipe = async (bytes, through) => new Uint8Array(await new Response(new Blob([bytes]).stream().pipeThrough(through)).arrayBuffer());

/** "#setting=1.…" */
export async function linkOf(text) {
  const packed = await pipe(new TextEncoder().encode(text), new CompressionStream("deflate-raw"));
  let letters = "";
  for (let i = 0; i < packed.length; i += 4096) letters += String.fromCharCode(...packed.subarray(i, i + 4096));
  return mark + btoa(letters).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
}

/** The TOML of such an address; null where it holds no setting. Throws Error that says what is wrong with one. */
export async function textOf(hash) {
  if (!hash.startsWith("#setting=")) return null;
  if (!hash.startsWith(mark)) throw new Error("it was made by a newer version of this page");
  const letters = hash.slice(mark.length);
  if (!/^[A-Za-z0-9_-]+$/.test(letters)) throw new Error(letters === "" ? "it is empty" : "it holds signs that such a link does not have; a part may be missing or changed");
  let bytes;
  try {
    bytes = Uint8Array.from(atob(letters.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
  } catch {
    throw new Error("a part of it is missing");
  }
  const reader = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw")).getReader();
  const parts = [];
  let size = 0;
  try {
    for (;;) {
      const { done, value } = await reader.read();
      if (done) break;
      size += value.length;
      if (size > most) break;
      parts.push(value);
    }
  } catch {
    throw new Error("it cannot be unpacked; a part of it is missing or changed");
  }
  if (size > most) {
    reader.cancel().catch(() => {}); // the rest is not wanted
    throw new Error("it holds more than a setting");
  }
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(await new Blob(parts).arrayBuffer());
  } catch {
    throw new Error("what it holds is no text");
  }
}

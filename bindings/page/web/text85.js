// SPDX-License-Identifier: MIT
// Bytes as text that stands in a page as it is: five signs for four bytes. A fifteenth less than base64. No sign is `<`, by which a
// script could end, or a backslash.

const first = 40, left_out = [60, 92]; // "(" … "~"
const signs = Array.from({ length: 87 }, (_, i) => first + i).filter((code) => !left_out.includes(code));

/** The text of these bytes. */
export function textOfBytes(bytes) {
  const out = new Uint8Array(Math.ceil(bytes.length / 4) * 5);
  for (let from = 0, to = 0; from < bytes.length; from += 4, to += 5) {
    let word = 0;
    for (let i = 0; i < 4; ++i) word = word * 256 + (bytes[from + i] ?? 0);
    for (let i = 4; i >= 0; --i) {
      out[to + i] = signs[word % 85];
      word = Math.floor(word / 85);
    }
  }
  // of a last group that is not full, one sign more than it has bytes
  const missing = (4 - (bytes.length % 4)) % 4;
  return new TextDecoder().decode(out.subarray(0, out.length - missing));
}

/** The bytes of a text that textOfBytes made. */
export function bytesOfText(text) {
  const digit = (at) => {
    if (at >= text.length) return 84;
    const code = text.charCodeAt(at);
    return code - first - (code > left_out[0] ? 1 : 0) - (code > left_out[1] ? 1 : 0);
  };
  const groups = Math.ceil(text.length / 5), out = new Uint8Array(groups * 4);
  for (let group = 0; group < groups; ++group) {
    const at = group * 5;
    const word = (((digit(at) * 85 + digit(at + 1)) * 85 + digit(at + 2)) * 85 + digit(at + 3)) * 85 + digit(at + 4);
    const to = group * 4;
    out[to] = word >>> 24; // of a number beyond 31 bits, the lower 32
    out[to + 1] = (word >>> 16) & 255;
    out[to + 2] = (word >>> 8) & 255;
    out[to + 3] = word & 255;
  }
  return out.subarray(0, out.length - (groups * 5 - text.length));
}

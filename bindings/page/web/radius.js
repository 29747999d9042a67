// SPDX-License-Identifier: MIT
// The apex radius on a photograph, from points that were set by hand; the formulas stand in docs/photograph.md. Nothing here knows the
// page.

/** The circle through three points: {x, y, r}; null where they lie on one line. */
export function circleThrough([a, b, c]) {
  const [ax, ay, bx, by] = [a.x - c.x, a.y - c.y, b.x - c.x, b.y - c.y];
  const cross = 2 * (ax * by - ay * bx);
  const span = Math.max(Math.hypot(ax, ay), Math.hypot(bx, by), Math.hypot(ax - bx, ay - by));
  if (!(Math.abs(cross) > 1e-9 * span * span)) return null;
  const [aa, bb] = [ax * ax + ay * ay, bx * bx + by * by];
  const x = (by * aa - ay * bb) / cross, y = (ax * bb - bx * aa) / cross;
  return { x: x + c.x, y: y + c.y, r: Math.hypot(x, y) };
}

const mean = (values) => values.reduce((sum, v) => sum + v, 0) / values.length;
/** Standard deviation about the mean; NaN of fewer than two. */
const spread = (values) => (values.length < 2 ? NaN : Math.sqrt(values.reduce((sum, v) => sum + (v - mean(values)) ** 2, 0) / (values.length - 1)));

/** How far off one click is at least, in pixels of the photograph, when spread says nothing: half a pixel each way (estimate). */
export const leastClick_px = 0.5;

/** Micrometres to a pixel of lengths in pixels, clicked one or more times along a bar of `bar_um` ± `bar_sd_um`. */
export function scaleOf(lengths_px, bar_um, bar_sd_um = 0) {
  const length = mean(lengths_px);
  // both ends of the bar are clicked
  const one = Math.max(Number.isNaN(spread(lengths_px)) ? 0 : spread(lengths_px), leastClick_px * Math.SQRT2);
  const share = Math.hypot(one / Math.sqrt(lengths_px.length) / length, bar_sd_um / bar_um);
  return { um_per_px: bar_um / length, share };
}

/** What one circle may be off because each of its three points may be: the slopes of its radius against every coordinate, times
 *  `leastClick_px`. */
export function radiusSlack(points) {
  const of = (moved) => circleThrough(moved)?.r ?? NaN;
  let sum = 0;
  const h = 1e-3;
  for (let i = 0; i < 3; ++i) {
    for (const axis of ["x", "y"]) {
      const at = (d) => of(points.map((p, k) => (k === i ? { ...p, [axis]: p[axis] + d } : p)));
      sum += ((at(h) - at(-h)) / (2 * h)) ** 2;
    }
  }
  return leastClick_px * Math.sqrt(sum);
}

/** The apex radius and its standard deviation, µm, of circles (three points each) and a scale. One circle rests on how near a click is;
 *  with several their spread counts, and never less than the clicks allow. */
export function apexRadius(circles, scale) {
  const radii = circles.map((points) => circleThrough(points)?.r).filter((r) => r !== undefined);
  if (radii.length === 0 || radii.length < circles.length) return null;
  const r = mean(radii);
  const clicks = Math.sqrt(mean(circles.map((points) => radiusSlack(points) ** 2)));
  const seen = spread(radii);
  const one = Math.max(Number.isNaN(seen) ? 0 : seen, clicks);
  const share = Math.hypot(one / Math.sqrt(radii.length) / r, scale.share);
  const radius_um = r * scale.um_per_px;
  return { radius_um, sd_um: radius_um * share, count: radii.length, from_clicks: one / Math.sqrt(radii.length) / r, from_scale: scale.share };
}

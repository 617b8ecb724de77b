// Plane geometry of the map. Pure: no page, no canvas, no Leaflet; tested in Node.
// World units: the web-mercator square, 0 to 1 from west to east and from north to south.

export const DEEPEST = 17;              // the zoom of the tile number kept with every tree
const EARTH_RADIUS_M = 6371009;         // IUGG mean radius, as in trees/tiles.py

export function worldX(lon) {
  return (lon + 180) / 360;
}

export function worldY(lat) {
  const held = Math.max(-85.0511287798066, Math.min(85.0511287798066, lat));
  return (1 - Math.asinh(Math.tan((held * Math.PI) / 180)) / Math.PI) / 2;
}

export function lonOf(x) {
  return x * 360 - 180;
}

export function latOf(y) {
  return (Math.atan(Math.sinh(Math.PI * (1 - 2 * y))) * 180) / Math.PI;
}

/** Column or row of the tile of this zoom at a world coordinate; the far edge belongs to the last tile. */
function step(value, zoom) {
  const side = 2 ** zoom;
  return Math.max(0, Math.min(side - 1, Math.floor(value * side)));
}

/** The zoom of the tiles asked for when the map stands at `mapZoom`: each 512 px wide, never finer than 17. */
export function tileZoom(mapZoom) {
  return Math.max(8, Math.min(DEEPEST, Math.floor(mapZoom) - 1));
}

/** The zoom of the cells counts stand in: 128 px wide, never finer than the tile number tells. */
export function cellZoom(mapZoom) {
  return Math.min(DEEPEST, tileZoom(mapZoom) + 2);
}

/** Tiles [z, x, y] that touch a box {west, south, east, north}, the middle ones first. */
export function tilesOf(box, zoom) {
  const [left, right] = [step(worldX(box.west), zoom), step(worldX(box.east), zoom)];
  const [top, bottom] = [step(worldY(box.north), zoom), step(worldY(box.south), zoom)];
  const [midX, midY] = [(left + right) / 2, (top + bottom) / 2];
  const tiles = [];
  for (let y = top; y <= bottom; y++) for (let x = left; x <= right; x++) tiles.push([zoom, x, y]);
  return tiles.sort((a, b) => Math.hypot(a[1] - midX, a[2] - midY) - Math.hypot(b[1] - midX, b[2] - midY));
}

export function inBox(lon, lat, box) {
  return lon >= box.west && lon <= box.east && lat >= box.south && lat <= box.north;
}

/** Whether a point lies inside a ring [[x, y], ...] (first corner not repeated): an odd number of crossings. */
export function inRing(x, y, ring) {
  let odd = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
    const [ax, ay] = ring[i], [bx, by] = ring[j];
    if (ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) odd = !odd;
  }
  return odd;
}

/** The ring of a box drawn between two corners. */
export function ringOfBox([ax, ay], [bx, by]) {
  return [[ax, ay], [bx, ay], [bx, by], [ax, by]];
}

/** A drawn line with fewer corners: those nearer than `least` to the one kept before are left out. */
export function thinned(points, least) {
  const kept = [];
  for (const point of points) {
    const last = kept.at(-1);
    if (!last || Math.hypot(point[0] - last[0], point[1] - last[1]) >= least) kept.push(point);
  }
  return kept;
}

/** The point nearest to x, y within `reach`; null when none is. `at` gives [x, y] of an item. */
export function nearest(items, x, y, reach, at) {
  let best = null, least = reach;
  for (const item of items) {
    const [px, py] = at(item);
    const away = Math.hypot(px - x, py - y);
    if (away <= least) [best, least] = [item, away];
  }
  return best;
}

/** Rows [id, lon, lat, , , state, , x, y] counted into cells of this zoom: Map "x/y" -> [x, y, count, tapped]. */
export function intoCells(rows, zoom, tappedState, cells = new Map()) {
  for (const row of rows) {
    addCell(cells, step(row[7], zoom), step(row[8], zoom), 1, row[5] === tappedState ? 1 : 0);
  }
  return cells;
}

/** Counts of finer cells added up into cells of this zoom. */
export function coarser(counts, fromZoom, zoom, cells = new Map()) {
  const shift = Math.max(0, fromZoom - zoom);
  for (const [x, y, count, tapped] of counts) addCell(cells, x >> shift, y >> shift, count, tapped);
  return cells;
}

function addCell(cells, x, y, count, tapped) {
  const cell = cells.get(`${x}/${y}`);
  if (cell) { cell[2] += count; cell[3] += tapped; }
  else cells.set(`${x}/${y}`, [x, y, count, tapped]);
}

/** A place moved by so many metres. */
export function moved(lon, lat, eastM, northM) {
  const degree = (EARTH_RADIUS_M * Math.PI) / 180;
  return [lon + eastM / (degree * Math.cos((lat * Math.PI) / 180)), lat + northM / degree];
}

/** The point so far along a line of screen points, and the length of the whole line. */
export function alongLine(points, distance) {
  let left = distance;
  for (let i = 1; i < points.length; i++) {
    const [ax, ay] = points[i - 1], [bx, by] = points[i];
    const long = Math.hypot(bx - ax, by - ay);
    if (left <= long && long > 0) return [ax + ((bx - ax) * left) / long, ay + ((by - ay) * left) / long];
    left -= long;
  }
  return points.at(-1);
}

export function lineLength(points) {
  let sum = 0;
  for (let i = 1; i < points.length; i++) sum += Math.hypot(points[i][0] - points[i - 1][0], points[i][1] - points[i - 1][1]);
  return sum;
}

const STRAIGHT = 0.985;     // a name stands where the chord is at least this share of the way along the line
const CANDIDATES = [0.5, 0.3, 0.7, 0.15, 0.85];

/** Where a name of `width` fits along a line of screen points: {x, y, angle}, upright; null where it does not. */
export function labelPlace(points, width) {
  const long = lineLength(points);
  if (long < width) return null;
  for (const share of CANDIDATES) {
    const middle = Math.max(width / 2, Math.min(long - width / 2, share * long));
    const [ax, ay] = alongLine(points, middle - width / 2), [bx, by] = alongLine(points, middle + width / 2);
    if (Math.hypot(bx - ax, by - ay) < STRAIGHT * width) continue;
    let angle = Math.atan2(by - ay, bx - ax);
    if (angle > Math.PI / 2) angle -= Math.PI;
    if (angle <= -Math.PI / 2) angle += Math.PI;
    return { x: (ax + bx) / 2, y: (ay + by) / 2, angle };
  }
  return null;
}

/** A line cut to the screen: the unbroken parts of it that are seen. */
export function partsOnScreen(points, width, height) {
  const parts = [];
  for (let i = 1; i < points.length; i++) {
    const cut = clip(points[i - 1], points[i], width, height);
    if (!cut) continue;
    const last = parts.at(-1)?.at(-1);
    if (last && last[0] === cut[0][0] && last[1] === cut[0][1]) parts.at(-1).push(cut[1]);
    else parts.push(cut);
  }
  return parts;
}

/** The part of the piece a-b inside the screen, by Liang and Barsky's rule; null when it passes outside. */
export function clip([ax, ay], [bx, by], width, height) {
  const [dx, dy] = [bx - ax, by - ay];
  let [from, to] = [0, 1];
  for (const [p, q] of [[-dx, ax], [dx, width - ax], [-dy, ay], [dy, height - ay]]) {
    if (p === 0) { if (q < 0) return null; continue; }
    const share = q / p;
    if (p < 0) from = Math.max(from, share);
    else to = Math.min(to, share);
    if (from > to) return null;
  }
  return [[ax + from * dx, ay + from * dy], [ax + to * dx, ay + to * dy]];
}

/** Points of a wave line along a line of screen points, `side` pixels beside it. */
export function wave(points, length = 40, height = 3.5, side = 0) {
  const out = [];
  let along = 0;
  for (let i = 1; i < points.length; i++) {
    const [ax, ay] = points[i - 1], [bx, by] = points[i];
    const long = Math.hypot(bx - ax, by - ay);
    if (!long) continue;
    const [ux, uy] = [(bx - ax) / long, (by - ay) / long];
    for (let d = 0; d < long; d += 5) {
      const sway = side + height * Math.sin(((along + d) / length) * 2 * Math.PI);
      out.push([ax + ux * d - uy * sway, ay + uy * d + ux * sway]);
    }
    along += long;
  }
  return out;
}

/** The square of the survey sheet at a place on the screen: "A1" top left, "D4" bottom right. */
export function squareAt(x, y, width, height) {
  const quarter = (part, whole) => Math.max(0, Math.min(3, Math.floor((4 * part) / whole)));
  return `${"ABCD"[quarter(x, width)]}${quarter(y, height) + 1}`;
}

const NAMES = 22, EDGE = 4, LEAST = 40; // pixels; a box narrower than LEAST nobody can read

/**
 * Where a cell's box stands along one side of the sheet: in the middle of its cell, moved and narrowed as far as its
 * neighbours allow where the sheet's edge would cut it. Null when none of it is in view.
 * start, wide: of the cell. room: what the box would take. most: the sheet, whose first pixels stay free for the names
 * of its squares. Answers {at, size}.
 */
export function boxIn(start, wide, room, most) {
  const gap = (wide - room) / 2, at = start + gap;
  if (at > most || at + room < 0) return null;
  const first = Math.max(NAMES, start - gap + EDGE), last = Math.min(most - EDGE, start + wide + gap - EDGE);
  const size = Math.min(room, last - first);
  if (size < LEAST || (at >= NAMES && at + room <= most - EDGE)) return { at, size: room };
  return { at: Math.min(Math.max(at, first), last - size), size };
}

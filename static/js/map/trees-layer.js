// Trees on the canvas: marks while they are few, counts in cells when they are many.
import { drawCell, drawChosen, drawFlag, drawOpen, drawTag, makeStamps } from "../marks.js";
import { boxIn, cellZoom, coarser, inBox, intoCells, latOf, lonOf, worldX, worldY } from "./geometry.js";
import { say } from "./wording.js";

// Places in a row as the server sends it; X and Y (world units) are put at its end as it comes.
export const [ID, LON, LAT, STATE, FLAG, X, Y] = [0, 1, 2, 5, 6, 7, 8];

/** What a view shows: {rows} to draw each, or {cells, zoom} when there are more than `many`. */
export function sortOut(answers, view, { many, tappedState }) {
  const rows = [], counted = [];
  for (const answer of answers) {
    if (answer.trees) {
      for (const row of answer.trees) if (inBox(row[LON], row[LAT], view.box)) rows.push(row);
    } else counted.push(answer);
  }
  if (!counted.length && rows.length <= many) return { rows, total: rows.length };
  const zoom = cellZoom(view.zoom);
  const cells = intoCells(rows, zoom, tappedState);
  for (const answer of counted) coarser(answer.cells, answer.zoom, zoom, cells);
  return { cells, zoom };
}

export function markSize(zoom) {
  return zoom >= 17 ? 14 : zoom >= 16 ? 12 : 10;
}

export class TreesPainter {
  constructor({ states, words }) {
    Object.assign(this, { states, words });
    this.stamps = new Map();
  }

  /** Other colours: the stamps are made anew. */
  recolour(palette) {
    this.palette = palette;
    this.stamps.clear();
  }

  #stampsOf(size) {
    if (!this.stamps.has(size)) this.stamps.set(size, makeStamps(size, devicePixelRatio || 1, this.palette));
    return this.stamps.get(size);
  }

  /** `names` draws what stands between the plain dots and the marks. `foot`: what of the sheet the acts cover. */
  paint(g, view, shown, { chosen, open, names, foot = 0 }) {
    if (shown.cells) this.#cells(g, view, shown, foot);
    else this.#marks(g, view, shown.rows, chosen, names);
    if (open) this.#open(g, view, open);
  }

  #marks(g, view, rows, chosen, names) {
    const size = markSize(view.zoom), stamps = this.#stampsOf(size);
    const above = [], flagged = [], bars = [];
    for (const row of rows) {
      const x = row[X] * view.world - view.left, y = row[Y] * view.world - view.top;
      if (x < -20 || y < -20 || x > view.width + 20 || y > view.height + 20) continue;
      const state = this.states[row[STATE]];
      if (state === "listed") stamps.draw(g, state, x, y);
      else above.push([state, x, y]);
      if (row[FLAG]) flagged.push([x, y]);
      if (chosen.has(row[ID])) bars.push([x, y, row[STATE]]);
    }
    names();
    for (const [state, x, y] of above) stamps.draw(g, state, x, y);
    for (const [x, y] of flagged) drawFlag(g, x, y, size, this.palette);
    for (const [x, y, state] of bars) drawChosen(g, x, y, this.states[state] === "listed" ? size / 2 : size, this.palette);
  }

  #cells(g, view, { cells, zoom }, foot) {
    const wide = view.world / 2 ** zoom;
    const room = Math.min(wide - 8, 104), tall = Math.min(wide - 8, 60);
    for (const [x, y, count, tapped] of cells.values()) {
      const across = boxIn(x * wide - view.left, wide, room, view.width);
      const down = boxIn(y * wide - view.top, wide, tall, view.height - foot);
      if (!across || !down) continue;
      drawCell(g, {
        x: across.at, y: down.at, width: across.size, height: down.size,
        countWords: say(this.words.trees, count), tappedWords: tapped ? say(this.words.tapped, tapped) : "",
        share: tapped / count,
      }, this.palette);
    }
  }

  #open(g, view, { lon, lat, code }) {
    const x = worldX(lon) * view.world - view.left, y = worldY(lat) * view.world - view.top;
    drawOpen(g, x, y, markSize(view.zoom), this.palette);
    drawTag(g, code, Math.max(50, Math.min(view.width - 50, x)), y < 44 ? y + 44 : y - 16, this.palette);
  }
}

/** The middle of the cell under a point of the screen, in degrees; null when there is none. */
export function cellAt(shown, view, x, y) {
  const wide = view.world / 2 ** shown.zoom;
  const [column, row] = [Math.floor((x + view.left) / wide), Math.floor((y + view.top) / wide)];
  if (!shown.cells.has(`${column}/${row}`)) return null;
  return [lonOf((column + 0.5) / 2 ** shown.zoom), latOf((row + 0.5) / 2 ** shown.zoom)];
}

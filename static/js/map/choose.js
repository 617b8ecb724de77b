// Choosing: which trees are chosen, and drawing round them with a line or a box.
import { inRing, ringOfBox, thinned } from "./geometry.js";

/** The chosen trees, by number; their tags follow as they are known. Calls `changed` after each change. */
export class Chosen {
  constructor(changed = () => {}) {
    this.codes = new Map();
    this.changed = changed;
  }

  get size() {
    return this.codes.size;
  }

  has(id) {
    return this.codes.has(id);
  }

  /** Choose trees given as [id, code or null] pairs; the number that were not chosen before. */
  add(pairs) {
    const before = this.codes.size;
    for (const [id, code] of pairs) if (code || !this.codes.get(id)) this.codes.set(id, code ?? null);
    this.changed();
    return this.codes.size - before;
  }

  drop(id) {
    if (this.codes.delete(id)) this.changed();
  }

  clear() {
    this.codes.clear();
    this.changed();
  }

  /** Numbers whose tag is not known yet. */
  untagged() {
    return [...this.codes].filter(([, code]) => code === null).map(([id]) => id);
  }

  /** Put in the tags the server knows, and drop numbers it does not give to this person. */
  tagged(asked, pairs) {
    const known = new Map(pairs);
    for (const id of asked) {
      if (!this.codes.has(id)) continue;
      if (known.has(id)) this.codes.set(id, known.get(id));
      else this.codes.delete(id);
    }
    this.changed();
  }

  tags() {
    return [...this.codes.values()].filter((code) => code !== null);
  }
}

/** Rows whose place lies inside a ring drawn on the screen. */
export function rowsInRing(rows, ring, view) {
  return rows.filter((row) => inRing(row[7] * view.world - view.left, row[8] * view.world - view.top, ring));
}

const NEAR_PX = 14;    // so near to the first corner closes the line
const DRAG_PX = 6;     // less than this between press and release is a press, not a drawn line

/**
 * Drawing over the map. Draw the line, or press its corners one by one (no drag needed); Escape leaves.
 * `done(ring)` gets the ring on the screen, `again()` asks for the sheet to be drawn anew.
 */
export class Drawing {
  constructor(element, { done, again }) {
    Object.assign(this, { element, done, again });
    this.kind = null;
    this.points = [];
    element.addEventListener("pointerdown", (event) => this.#down(event), true);
    element.addEventListener("pointermove", (event) => this.#move(event), true);
    element.addEventListener("pointerup", (event) => this.#up(event), true);
    element.addEventListener("pointercancel", () => { this.pressed = null; }, true);
    element.addEventListener("click", (event) => { if (this.kind) event.stopPropagation(); }, true);
  }

  start(kind) {
    this.kind = kind;
    this.points = [];
    this.pressed = null;
    this.element.classList.toggle("drawing", Boolean(kind));
    this.again();
  }

  #at(event) {
    const edge = this.element.getBoundingClientRect();
    return [event.clientX - edge.left, event.clientY - edge.top];
  }

  #down(event) {
    if (!this.kind || !event.isPrimary) return;
    event.stopPropagation();
    event.preventDefault();
    this.element.setPointerCapture?.(event.pointerId);
    this.pressed = this.#at(event);
    this.drawn = [this.pressed];
  }

  #move(event) {
    if (!this.kind) return;
    event.stopPropagation();
    this.hover = this.#at(event);
    if (this.pressed) this.drawn.push(this.hover);
    this.again();
  }

  #up(event) {
    if (!this.kind || !this.pressed) return;
    event.stopPropagation();
    const here = this.#at(event);
    const dragged = Math.hypot(here[0] - this.pressed[0], here[1] - this.pressed[1]) > DRAG_PX || this.drawn.length > 24;
    const pressed = this.pressed;
    this.pressed = null;
    if (this.kind === "box") {
      if (dragged) return this.#finish(ringOfBox(pressed, here));
      if (this.points.length) return this.#finish(ringOfBox(this.points[0], here));
      this.points = [here];
    } else if (dragged && !this.points.length) {
      return this.#finish(thinned(this.drawn, 3));
    } else {
      const [first] = this.points;
      if (this.points.length >= 3 && Math.hypot(first[0] - here[0], first[1] - here[1]) <= NEAR_PX) return this.#finish(this.points);
      this.points.push(here);
    }
    this.again();
  }

  #finish(ring) {
    this.start(null);
    if (ring.length >= 3) this.done(ring);
  }

  /** The line so far. */
  paint(g, palette) {
    if (!this.kind) return;
    let ring = this.pressed ? this.drawn : [...this.points, ...(this.points.length && this.hover ? [this.hover] : [])];
    if (this.kind === "box") {
      const from = this.pressed ?? this.points[0], to = this.hover ?? from;
      ring = from ? ringOfBox(from, to) : [];
    }
    if (!ring.length) return;
    g.save();
    g.beginPath();
    ring.forEach(([x, y], n) => (n ? g.lineTo(x, y) : g.moveTo(x, y)));
    g.closePath();
    g.globalAlpha = 0.22;
    g.fillStyle = palette.amber;
    g.fill();
    g.globalAlpha = 1;
    g.setLineDash([7, 5]);
    g.lineWidth = 2;
    g.strokeStyle = palette.ink;
    g.stroke();
    g.setLineDash([]);
    for (const [x, y] of this.kind === "lasso" && !this.pressed ? this.points : []) g.strokeRect(x - 4, y - 4, 8, 8);
    g.restore();
  }
}

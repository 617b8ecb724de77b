// A pin for a tree's place: set by a press on the map, moved by a metre at a time, or typed. No drag is needed.
import { drawMark, drawOpen } from "../marks.js";
import { moved, worldX, worldY } from "./geometry.js";

const STEPS = { north: [0, 1], south: [0, -1], east: [1, 0], west: [-1, 0] };
export const NUDGE_M = 1;
const PLACES = 7;          // decimals of a degree: about a centimetre

export class Pin {
  constructor(changed = () => {}) {
    this.changed = changed;
    this.lon = this.lat = null;
  }

  get isSet() {
    return Number.isFinite(this.lon) && Number.isFinite(this.lat) && this.lon !== null;
  }

  set(lon, lat, by = "") {
    [this.lon, this.lat] = [Number(lon.toFixed(PLACES)), Number(lat.toFixed(PLACES))];
    this.changed(this, by);
  }

  unset() {
    this.lon = this.lat = null;
  }

  nudge(way) {
    if (!this.isSet || !STEPS[way]) return;
    const [east, north] = STEPS[way];
    this.set(...moved(this.lon, this.lat, east * NUDGE_M, north * NUDGE_M), way);
  }

  paint(g, view, palette) {
    if (!this.isSet) return;
    const x = worldX(this.lon) * view.world - view.left, y = worldY(this.lat) * view.world - view.top;
    drawOpen(g, x, y, 18, palette);
    drawMark(g, "considered", x, y, 18, palette);
  }
}

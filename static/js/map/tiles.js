// Trees as they come from the server, tile by tile, kept while the filter stays the same.
import { tilesOf, tileZoom, worldX, worldY } from "./geometry.js";

const KEPT = 300;        // tiles in memory; the oldest go first
const FRESH_MS = 60_000; // after that a tile is asked for again, which costs one short 304

export class Tiles {
  constructor({ url, filter, arrived, failed }) {
    Object.assign(this, { url, filter, arrived, failed });
    this.kept = new Map();
    this.asked = new Map();
    this.round = 0;
  }

  /** Another filter: what is known no longer holds. */
  filterBy(filter) {
    this.filter = filter;
    this.forget();
  }

  forget() {
    this.round += 1;
    this.kept.clear();
    for (const stop of this.asked.values()) stop.abort();
    this.asked.clear();
  }

  /** Ask for what is missing in the box, and stop asking for what is no longer in sight. */
  want(box, mapZoom) {
    const names = new Set();
    for (const [z, x, y] of tilesOf(box, tileZoom(mapZoom))) {
      const name = `z=${z}&x=${x}&y=${y}`;
      names.add(name);
      const known = this.kept.get(name);
      if ((!known || performance.now() - known.at > FRESH_MS) && !this.asked.has(name)) this.#ask(name);
    }
    for (const [name, stop] of this.asked) if (!names.has(name)) { stop.abort(); this.asked.delete(name); }
    this.wanted = names;
  }

  /** The answers in sight that have come so far. */
  *inSight() {
    for (const name of this.wanted ?? []) {
      const known = this.kept.get(name);
      if (known) yield known.answer;
    }
  }

  get complete() {
    return this.asked.size === 0;
  }

  async #ask(name) {
    const stop = new AbortController();
    const round = this.round;
    this.asked.set(name, stop);
    try {
      const response = await fetch(`${this.url}?${name}&${this.filter}`, { signal: stop.signal, headers: { Accept: "application/json" } });
      if (response.redirected || !response.ok) throw new SignedOut(response);
      const answer = await response.json();
      if (round !== this.round) return;
      for (const row of answer.trees ?? []) row.push(worldX(row[1]), worldY(row[2]));     // once, not with every frame
      this.kept.delete(name);
      this.kept.set(name, { answer, at: performance.now() });
      for (const old of this.kept.keys()) {
        if (this.kept.size <= KEPT) break;
        if (!this.wanted.has(old)) this.kept.delete(old);
      }
    } catch (why) {
      if (why.name !== "AbortError") this.failed(why);
    } finally {
      if (this.asked.get(name) === stop) this.asked.delete(name);
      if (round === this.round && !stop.signal.aborted) this.arrived();
    }
  }
}

/** The server answered, but not with trees. */
export class SignedOut extends Error {
  constructor(response) {
    super("no trees");
    this.signedOut = response.redirected;
  }
}

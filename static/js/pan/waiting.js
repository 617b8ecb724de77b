// Looks that wait for signal. Kept where the device keeps things, sent with how long ago they were, so that a wrong
// clock on the device makes no wrong time. A look leaves only when it is said to be saved, or plainly refused.

const KEY = "pan-looks";
const REFUSED = new Set([409, 422]);

export class Waiting {
  constructor(storage, batch) {
    this.storage = storage;
    this.batch = batch;
    this.busy = false;
  }

  all() {
    try {
      const held = JSON.parse(this.storage.getItem(KEY) ?? "[]");
      return Array.isArray(held) ? held : [];
    } catch {
      return [];
    }
  }

  mine() {
    return this.all().filter((look) => look.batch === this.batch);
  }

  add(look) {
    this.keep([...this.all(), { ...look, batch: this.batch }]);
  }

  drop(token) {
    this.keep(this.all().filter((look) => look.token !== token));
  }

  keep(looks) {
    this.storage.setItem(KEY, JSON.stringify(looks));
  }

  /** When the last waiting look was, in the device's own time; NaN without one. */
  lastMs() {
    const times = this.mine().map((look) => look.at);
    return times.length ? Math.max(...times) : Number.NaN;
  }

  /**
   * Send what waits, one by one, oldest first. send(look) answers {status, said}; it throws without signal.
   * Gives back what was refused, in words. A look that cannot be sent now stays and stops the rest.
   */
  async send(send) {
    if (this.busy) return [];
    this.busy = true;
    const refused = [];
    try {
      for (const look of this.mine()) {
        const { status, said } = await send(look);
        if (status === 200) this.drop(look.token);
        else if (REFUSED.has(status)) {
          this.drop(look.token);
          refused.push(said);
        } else break;
      }
    } catch {
      // No signal: all that is left stays, and is tried again.
    } finally {
      this.busy = false;
    }
    return refused;
  }
}

/** A number of its own for a look; also where the page is not served over https. */
export function newToken(random = globalThis.crypto) {
  if (random.randomUUID) return random.randomUUID();
  const bytes = random.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;                    // version and variant: RFC 9562, section 5.4
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

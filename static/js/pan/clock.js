// When the pan was last looked at, and whether it is time again. No page and no network in here.

export const LEAST_MIN = 5;
export const MOST_MIN = 15;
export const USUAL_MIN = 10;
const MINUTE_MS = 60_000;

/** Minutes between looks as somebody set them, kept within 5 and 15; 10 until then. */
export function every(text) {
  const minutes = Number(text);
  if (!text || !Number.isFinite(minutes)) return USUAL_MIN;
  return Math.min(MOST_MIN, Math.max(LEAST_MIN, Math.round(minutes)));
}

/** The clock at a moment: minutes gone, minutes left (whole, rounded up), whether it is late and since when. */
export function clockAt(lastMs, nowMs, everyMin) {
  const goneMs = Math.max(0, nowMs - lastMs);
  const leftMs = everyMin * MINUTE_MS - goneMs;
  return {
    gone: Math.floor(goneMs / MINUTE_MS),
    left: Math.max(0, Math.ceil(leftMs / MINUTE_MS)),
    late: leftMs <= 0,
    dueMs: lastMs + everyMin * MINUTE_MS,
  };
}

/** The later of two looks: whoever looked last counts, on whichever device. */
export function latest(...looks) {
  return Math.max(...looks.filter((look) => Number.isFinite(look)));
}

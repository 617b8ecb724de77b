// Pure arithmetic of the log's big steps; no page is touched here. Amounts are millilitres, shown in the unit given.

const ML = { L: 1000, gal: 3785.411784 };

/** Millilitres of a typed amount in the unit, or null when it is no plain number. */
export function readMl(text, unit) {
  const typed = String(text).trim().replace(",", ".");
  return /^\d+(\.\d+)?$/.test(typed) ? Number(typed) * ML[unit] : null;
}

/** The amount as a person types it: at most two decimals, none that say nothing. */
export function showMl(ml, unit) {
  return String(Math.round((ml / ML[unit]) * 100) / 100);
}

/** One step up (1) or down (-1) to the next whole step, never below nothing. */
export function step(ml, stepMl, way) {
  const steps = ml / stepMl;
  const near = Math.round(steps);
  const onStep = Math.abs(steps - near) < 0.01;
  const next = onStep ? near + way : way > 0 ? Math.ceil(steps) : Math.floor(steps);
  return Math.max(0, next) * stepMl;
}

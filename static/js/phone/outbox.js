// What waits to be sent, and how it is sent. Touches neither page nor disk: both are handed in, so Node can test it.

export const FORMAT = 1; // how an entry is written down; tests/phone/data holds a queue of every version released
export const MOST = 25; // entries in one batch: few enough that the answer comes before anybody gives up
const LATE_MS = 2 * 24 * 3600 * 1000;

/** A new entry. `clock` says the phone's time, its unsettable clock, this page's name, and the last contact with us. */
export function newEntry({ kind, body, person, id, clock }) {
  return {
    id,
    person,
    kind,
    format: FORMAT,
    state: "waiting",
    tries: 0,
    reasons: [],
    happened_ms: clock.now_ms,
    mono_ms: clock.mono_ms,
    session: clock.session,
    contact: clock.contact ?? null,
    body,
  };
}

/** The entry as it travels. `waited_ms` only where the page that wrote it is still open: no clock can be set meanwhile. */
export function asSent(entry, clock) {
  const wire = { ...entry.body, id: entry.id, kind: entry.kind, happened_ms: entry.happened_ms };
  if (entry.contact) wire.contact = entry.contact;
  if (entry.session === clock.session) wire.waited_ms = Math.max(0, Math.round(clock.mono_ms - entry.mono_ms));
  return wire;
}

/** In the order they were written: an entry before what changes it. */
export function inOrder(entries) {
  return [...entries].sort((one, other) => one.n - other.n);
}

/** The next batch of this person: of one format, in order. */
export function batchOf(entries, person, already = new Set()) {
  const mine = inOrder(entries).filter(
    (entry) => entry.state === "waiting" && entry.person === person && !already.has(entry.id),
  );
  const format = mine[0]?.format;
  return mine.filter((entry) => entry.format === format).slice(0, MOST);
}

/** What the server's word makes of an entry. Without a word it goes on waiting. */
export function settled(entry, answer, now_ms) {
  if (!answer || answer.state === "later") return entry;
  const reasons = answer.reasons ?? [];
  if (answer.state === "refused") return { ...entry, state: "refused", reasons };
  return { ...entry, state: answer.to_review ? "review" : "sent", reasons, sent_ms: now_ms, at_ms: answer.at_ms };
}

/** Milliseconds until the next try: 2 s, then twice as long each time, to five minutes; spread, so that phones do not
 * all come at once. */
export function pause(failures, chance = Math.random()) {
  return Math.round(Math.min(300_000, 2_000 * 2 ** Math.min(failures, 10)) * (0.75 + chance / 2));
}

/** How many of this person wait, are to be looked at, were not accepted; and how many wait for somebody else. */
export function counts(entries, person) {
  const mine = entries.filter((entry) => entry.person === person);
  const many = (list, state) => list.filter((entry) => entry.state === state).length;
  return {
    waiting: many(mine, "waiting"),
    review: many(mine, "review"),
    refused: many(mine, "refused"),
    others: many(entries, "waiting") - many(mine, "waiting"),
  };
}

/** Whether the server cannot have the entry: then it may simply go, or be changed in place. One that may have arrived is
 * followed by a second entry instead, whatever its answer was. */
export const untried = (entry) => entry.state === "refused" || (entry.state === "waiting" && entry.tries === 0);

/** Say it otherwise: in place while it was never tried, else by a second entry. */
export function changed(entry, body, make) {
  if (untried(entry)) return { put: [{ ...entry, body, state: "waiting", reasons: [] }], add: [] };
  return { put: [], add: [make("change", { ...body, of: entry.id })] };
}

/** What was sent more than two days ago needs no place on the phone any more. */
export function outdated(entries, now_ms) {
  return entries
    .filter((entry) => ["sent", "review"].includes(entry.state) && Math.abs(now_ms - (entry.sent_ms ?? now_ms)) > LATE_MS)
    .map((entry) => entry.id);
}

/** Send all that waits. Returns {state, ...}: "sent", "nothing", "offline", "signed-out", "other", "no-member", "busy".
 *
 * io.all(), io.put(entries): the disk. io.hello(): {person, secret} or {code}; throws where there is no signal.
 * io.post(batch, secret): {answers} or {code}; throws where the line broke. io.clock(): see newEntry.
 */
export async function sendAll(io) {
  let hello;
  try {
    hello = await io.hello();
  } catch {
    return { state: "offline" };
  }
  if (hello.code) return { state: hello.code };
  await io.heard?.(hello);
  const asked = new Set();
  let sent = 0;
  for (;;) {
    const batch = batchOf(await io.all(), hello.person, asked);
    if (batch.length === 0) break;
    // Written down before the line is opened: an entry that may have arrived is never simply deleted.
    const tried = batch.map((entry) => ({ ...entry, tries: entry.tries + 1 }));
    await io.put(tried);
    const clock = io.clock();
    let reply;
    try {
      reply = await io.post(
        {
          format: batch[0].format,
          person: hello.person,
          phone_now_ms: clock.now_ms,
          entries: tried.map((entry) => asSent(entry, clock)),
        },
        hello.secret,
      );
    } catch {
      return { state: "offline", sent };
    }
    if (reply.code) return { state: reply.code, sent };
    const answers = new Map((reply.answers ?? []).map((answer) => [answer.id, answer]));
    const after = tried.map((entry) => settled(entry, answers.get(entry.id), clock.now_ms));
    await io.put(after.filter((entry) => entry.state !== "waiting"));
    sent += after.filter((entry) => entry.state !== "waiting").length;
    for (const entry of after) asked.add(entry.id);
  }
  const left = counts(await io.all(), hello.person);
  if (left.waiting > 0) return { state: "busy", sent };
  return { state: sent ? "sent" : "nothing", sent, others: left.others };
}

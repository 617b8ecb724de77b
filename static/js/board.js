// The board looks again by itself once a minute while somebody looks at it. Without this file there is “Look again”.

export const EVERY_MS = 60_000;

/** The rounds that are late now and were not before, by name. Each standing: {name, standing} by the round's key. */
export function newlyLate(before, after) {
  return Object.entries(after)
    .filter(([key, now]) => now.standing === "late" && before[key]?.standing !== "late")
    .map(([, now]) => now.name);
}

/** The keys of the rounds whose standing is another than before. */
export function changed(before, after) {
  return Object.keys(after).filter((key) => key in before && before[key].standing !== after[key].standing);
}

/** Whether the part may be swapped now: not under somebody who writes, or stands on something without a name. */
export function maySwap(focused, inside) {
  return !inside || (Boolean(focused.id) && !focused.matches("input, select, textarea"));
}

function standings(board) {
  const lines = [...board.querySelectorAll("[data-round]")];
  return Object.fromEntries(lines.map((line) => [line.dataset.round, { name: line.dataset.name, standing: line.dataset.standing }]));
}

function swap(board, html, says) {
  const focused = document.activeElement;
  const inside = board.contains(focused) && focused !== board;
  if (!maySwap(focused, inside)) return;
  const before = standings(board);
  const open = [...board.querySelectorAll("details[open]")].map((one) => one.querySelector("summary").textContent);
  board.innerHTML = html;
  for (const one of board.querySelectorAll("details")) {
    if (open.includes(one.querySelector("summary").textContent)) one.open = true;
  }
  if (inside) (document.getElementById(focused.id) ?? board).focus({ preventScroll: true });
  const after = standings(board);
  for (const key of changed(before, after)) board.querySelector(`[data-round="${key}"]`).classList.add("changed");
  const late = newlyLate(before, after);
  if (late.length) says.textContent = says.dataset.late.replace("{names}", late.join(", "));
}

async function look(board, says, cutOff) {
  const url = new URL(location.href);
  url.searchParams.set("part", "1");
  try {
    const answer = await fetch(url, { headers: { Accept: "text/html" }, cache: "no-store" });
    // Signed out meanwhile: the answer is the sign-in page, which is no board.
    if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
    swap(board, await answer.text(), says);
    cutOff.hidden = true;
  } catch {
    cutOff.hidden = false;
  }
}

function start(board) {
  const says = document.querySelector("[data-board-says]");
  const cutOff = document.querySelector("[data-board-cut-off]");
  let last = Date.now();
  const again = () => {
    if (document.hidden || Date.now() - last < EVERY_MS) return;
    last = Date.now();
    look(board, says, cutOff);
  };
  setInterval(again, EVERY_MS / 12);
  document.addEventListener("visibilitychange", again);
}

if (typeof document !== "undefined") {
  const board = document.querySelector("[data-board]");
  if (board) start(board);
}

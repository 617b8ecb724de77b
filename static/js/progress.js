// Keeps the bar of a file being read up to date. The page works without this file: "Look again" shows the same.

const place = document.querySelector("[data-progress]");
const EVERY_MS = 2000;
const AT_WORK = new Set(["waiting", "running"]);

async function look() {
  if (document.hidden) return later();
  try {
    const answer = await fetch(place.dataset.progress, { headers: { Accept: "text/html" } });
    if (answer.redirected || !answer.ok) return later();
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-state]");
    if (!fresh) return later();
    // The file is read to its end, or somebody stopped it: the page itself says what came of it.
    if (!AT_WORK.has(fresh.dataset.state)) return location.reload();
    place.replaceChildren(fresh);
  } catch {
    // No signal for the moment; the next look may find some.
  }
  return later();
}

function later() {
  setTimeout(look, EVERY_MS);
}

if (place) later();

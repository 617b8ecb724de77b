// Small kindnesses every page has. All pages work without this file.

// 1. On a narrow screen the way you are at stands in sight.
const here = document.querySelector("header nav [aria-current]");
if (here) {
  const nav = here.closest("nav");
  nav.scrollLeft = here.offsetLeft - nav.offsetLeft - (nav.clientWidth - here.offsetWidth) / 2;
}

// 2. What is printed shows its workings, then folds again.
let opened = [];
addEventListener("beforeprint", () => {
  opened = [...document.querySelectorAll("details:not([open])")];
  for (const part of opened) part.open = true;
});
addEventListener("afterprint", () => {
  for (const part of opened) part.open = false;
  opened = [];
});

// 3. A second press on a slow line does not post the same form twice.
const PATIENCE_MS = 5000;
addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.getAttribute("method")?.toLowerCase() !== "post") return;
  const now = performance.now();
  if (now - Number(form.dataset.sentAt ?? -PATIENCE_MS) < PATIENCE_MS) event.preventDefault();
  else form.dataset.sentAt = String(now);
});
addEventListener("pageshow", (event) => {
  if (!event.persisted) return;
  for (const form of document.querySelectorAll("form[data-sent-at]")) delete form.dataset.sentAt;
});

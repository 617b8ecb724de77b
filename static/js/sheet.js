// Keying a round sheet: Enter goes on to the next line, and what is typed is kept every few lines.
// Without this file Tab goes on, and Enter sends the sheet, which keeps what is typed just as well.

const form = document.querySelector("#keying");
const EVERY_LINES = 5;
let since = 0;

async function keep() {
  since = 0;
  const body = new FormData(form);
  body.set("act", "keep");
  try {
    const answer = await fetch(form.action || location.href, {
      method: "POST",
      body,
      headers: { "X-Kept": "quietly" },
      redirect: "manual",
    });
    const said = form.querySelector("[data-kept]");
    if (said) said.hidden = answer.status !== 204;
  } catch {
    // No line for the moment: what is typed stands on the page, and the next lines try again.
  }
}

if (form) {
  const lines = [...form.querySelectorAll("[data-line]")];
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName === "BUTTON" || event.isComposing) return;
    event.preventDefault();
    const row = event.target.closest("li");
    const at = row ? lines.findIndex((one) => row.contains(one)) : -1;
    const next = lines[at + 1];
    if (next) {
      next.focus();
      next.select();
    } else {
      form.querySelector('button[value="key"]').focus();
    }
    since += 1;
    if (since >= EVERY_LINES) keep();
  });
}

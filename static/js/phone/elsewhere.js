// On every other page: what waits on this phone stays in sight, and signing out says so first. Does nothing on a
// browser that has never opened the round.
// Another programme under another path of the same host keeps its own (see disk.js, which is loaded only where needed).
const NAME = `sugarbush${new URL(import.meta.url).pathname.split("/static/")[0]}`;
const known = (await indexedDB?.databases?.().catch(() => [])) ?? [];

if (known.some(({ name }) => name === NAME)) {
  const disk = await import("./disk.js");
  const waiting = async () => (await disk.all()).filter((entry) => entry.state === "waiting").length;
  const n = await waiting().catch(() => 0);
  const strip = document.querySelector("[data-waits]");
  if (strip && n > 0) {
    const { one, many, kept } = strip.dataset;
    const [mark, words] = strip.children;
    mark.textContent = n;
    words.querySelector("b").textContent = n === 1 ? one : many.replace("{n}", n);
    words.querySelector("span").textContent = kept;
    strip.classList.add("waiting");
    strip.hash = "entries";
  }
  for (const form of document.querySelectorAll("form[data-waiting]")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const left = await waiting().catch(() => 0);
      const { waiting: many, waitingOne: one } = form.dataset;
      if (left > 0 && !confirm(left === 1 ? one : many.replace("{n}", left))) return;
      // The round of the one who leaves is put away; what waits to be sent stays until they are back.
      await disk.forget("").catch(() => undefined);
      form.submit();
    });
  }
}

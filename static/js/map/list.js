// The list beside the map: refreshed when the map moves, its ticks and the map's marks are one choice.
import { numberWords } from "./wording.js";

export class List {
  constructor({ element, heading, key, url, chosen, opened, failed }) {
    Object.assign(this, { element, heading, key, url, chosen, opened, failed });
    element.addEventListener("change", (event) => this.#ticked(event.target));
    element.addEventListener("click", (event) => this.#pressed(event));
  }

  /** Fetch the list of this view; query is a URLSearchParams without `fragment`. */
  async show(query, { focus = false } = {}) {
    this.stop?.abort();
    this.stop = new AbortController();
    const asked = new URLSearchParams(query);
    asked.set("fragment", "list");
    try {
      const response = await fetch(`${this.url}?${asked}`, { signal: this.stop.signal, headers: { Accept: "text/html" } });
      if (response.redirected || !response.ok) throw Object.assign(new Error("no list"), { signedOut: response.redirected });
      const page = new DOMParser().parseFromString(await response.text(), "text/html");
      this.element.replaceChildren(...page.body.childNodes);
      this.element.scrollTop = 0;
      this.told();
      if (focus) this.element.querySelector("a[data-code]")?.focus();
    } catch (why) {
      if (why.name !== "AbortError") this.failed(why);
    }
  }

  /** Put heading, key counts and ticks in step with what the list holds now. */
  told() {
    const root = this.element.firstElementChild;
    if (!root) return;
    this.heading.textContent = root.dataset.heading;
    for (const pair of root.dataset.counts.trim().split(/\s+/)) {
      const [name, count] = pair.split(":");
      const place = this.key.querySelector(`[data-count="${name}"]`);
      if (place) place.textContent = numberWords(Number(count));
    }
    this.tick();
    this.mark(this.open);
  }

  /** Ticks as the choice says. */
  tick() {
    for (const box of this.element.querySelectorAll("input[data-id]")) {
      const id = Number(box.dataset.id);
      box.checked = this.chosen.has(id);
      if (box.checked) this.chosen.codes.set(id, box.value);
    }
  }

  /** The row of the open tree. */
  mark(code) {
    this.open = code;
    for (const row of this.element.querySelectorAll("a[data-code]")) {
      if (row.dataset.code === code) row.setAttribute("aria-current", "true");
      else row.removeAttribute("aria-current");
    }
  }

  /** What the page came with already ticked (choose all without script) is chosen. */
  takeTicks() {
    const ticked = [...this.element.querySelectorAll("input[data-id]:checked")];
    if (ticked.length) this.chosen.add(ticked.map((box) => [Number(box.dataset.id), box.value]));
  }

  #ticked(box) {
    if (!box.dataset.id) return;
    if (box.checked) this.chosen.add([[Number(box.dataset.id), box.value]]);
    else this.chosen.drop(Number(box.dataset.id));
  }

  #pressed(event) {
    const link = event.target.closest("a");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
    if (link.dataset.code) {
      event.preventDefault();
      this.opened({ code: link.dataset.code, id: Number(link.dataset.id) });
    } else if (link.closest(".pages")) {
      event.preventDefault();
      this.show(new URL(link.href).searchParams, { focus: true });
    }
  }
}

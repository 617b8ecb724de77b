// A hole that has been drilled, a spout that has come out.

// The page hands its tools over: two modules that import each other could have no hashed names.
let page, say, screen, show, state, volume, wrong;
export const meet = (given) => ({ say, screen, show, state, volume, wrong } = page = given);

const units = () => state.pack.person.units;
const mm = (text) => {
  const typed = String(text).trim().replace(",", ".");
  return /^\d+(\.\d+)?$/.test(typed) ? Math.round(Number(typed) * (units() === "us" ? 25.4 : 10)) : null;
};

export function tap(stop) {
  const { root, f } = screen("t-tap");
  const form = root.querySelector("form");
  f.address.textContent = page.placeOf(stop);
  f.code.textContent = stop.code;
  for (const part of root.querySelectorAll("[data-f=length]")) part.textContent = units() === "us" ? "in" : "cm";
  const why = stop.gate?.why ?? [say("no_season")];
  const time = state.contact ? page.clockTime(state.contact.phone_ms) : "";
  f.gate.classList.toggle("open", why.length === 0);
  f.gate_head.textContent = why.length ? say("gate_no", { time }) : say("gate_yes", { time, n: stop.gate.left });
  f.gate_why.append(...why.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  const pails = units() === "us" ? [7571, 11356, 15142, 18927] : [8000, 10000, 12000, 20000];
  f.pails.append(...pails.map((ml, n) => pick("holds", ml, volume(ml), n === 0)));
  f.back.href = "#all";
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const chosen = (name) => form.querySelector(`[name=${name}]:checked`)?.value;
    const [height_mm, depth_mm] = [mm(form.height.value), mm(form.depth.value)];
    const words =
      chosen("aspect") === undefined || chosen("shavings") === undefined
        ? say("choose")
        : !(height_mm >= 100 && height_mm <= 3000)
          ? say("height_wrong")
          : !(depth_mm >= 10 && depth_mm <= 150)
            ? say("depth_wrong")
            : "";
    if (wrong(f, words)) return;
    const hole = page.make("tap", {
      tree: stop.code,
      height_mm,
      depth_mm,
      aspect_deg: Number(chosen("aspect")),
      bit_um: Number(chosen("bit")),
      shavings: chosen("shavings"),
      holds_ml: Number(chosen("holds")),
      note: form.note.value.trim(),
    });
    if (!(await page.write([hole]))) return;
    page.saved(say("kept_hole"), hole);
    page.go(stop.code);
  });
  show(root, f.address.textContent, { plain: true });
}

function pick(name, value, text, checked = false) {
  const label = document.createElement("label");
  label.className = "pick bare";
  label.append(Object.assign(document.createElement("input"), { type: "radio", name, value, checked }), text);
  return label;
}

export function pull(stop) {
  const { root, f } = screen("t-pull");
  const form = root.querySelector("form");
  f.address.textContent = page.placeOf(stop);
  f.code.textContent = stop.code;
  f.which.hidden = stop.taps.length < 2;
  f.spouts.append(
    ...stop.taps.map((one, n) => pick("tap", one.id, say("spout_n", { n: n + 1, day: page.dayWords(one.at_ms) }), n === 0)),
  );
  f.back.href = `#${stop.code}`;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const lost = event.submitter?.value === "lost";
    const note = form.note.value.trim();
    if (wrong(f, lost && !note ? form.querySelector("[for=f-lost]").textContent : "")) return;
    const body = { tree: stop.code, tap: form.querySelector("[name=tap]:checked")?.value ?? "", lost, note };
    const out = page.make("pull", body);
    if (!(await page.write([out]))) return;
    page.saved(say("saved_sap", { what: say("outcome_pull"), place: page.placeOf(stop) }), out);
    if (stop.taps.length > 1) page.go(stop.code);
    else page.goOn(stop.code);
  });
  show(root, f.address.textContent);
}

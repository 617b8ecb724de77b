// The sum under the jar counts: syrup to pack against jars, heel and filter. The server checks it to the millilitre.
import { readMl } from "./steps.js";

/** Millilitres of what was typed into a volume field; a named unit wins over the page's own. 0 where it is none. */
export function typedMl(text, unit) {
  const typed = String(text).trim();
  const named = /^(.*?)\s*(mL|ml|L|l|gal)$/.exec(typed);
  if (named && /^ml$/i.test(named[2])) {
    const ml = readMl(named[1], "L");
    return ml === null ? 0 : Math.round(ml / 1000);
  }
  const ml = named ? readMl(named[1], named[2].toLowerCase() === "l" ? "L" : "gal") : readMl(typed, unit);
  return ml === null ? 0 : Math.round(ml);
}

/** Millilitres of a jar's size: a bare number is mL or US fluid ounces, as the page says. 0 where it is none. */
export function jarMl(text, unit) {
  const typed = String(text).trim();
  const named = /^(.*?)\s*(mL|ml|L|l|gal|fl\.? ?oz)$/.exec(typed);
  const sign = named ? named[2].toLowerCase() : unit === "gal" ? "fl oz" : "ml";
  if (!sign.startsWith("fl") && sign !== "ml") return typedMl(typed, unit);
  const amount = readMl(named ? named[1] : typed, "L");
  if (amount === null) return 0;
  return Math.round((amount / 1000) * (sign === "ml" ? 1 : 29.5735295625));
}

/** What is in jars, what is left, and whether that is within the tolerance. */
export function evenOut({ drawn, rows, heel, filter, tolerancePct, toleranceMl }) {
  const jars = rows.reduce((sum, row) => sum + row.size * row.filled, 0);
  const left = drawn - jars - heel - filter;
  const allowed = Math.max(Math.floor((drawn * tolerancePct) / 100), toleranceMl);
  const state = drawn === 0 || jars === 0 ? "begun" : Math.abs(left) <= allowed ? "even" : "over";
  return { jars, left, allowed, state };
}

function start(box) {
  const form = box.closest("form");
  const unit = box.dataset.unit;
  const amounts = JSON.parse(document.getElementById(box.dataset.amounts).textContent);
  const show = (ml) => {
    const per = unit === "gal" ? 3785.411784 : 1000;
    const digits = unit === "gal" ? 4 : 3;
    return `${new Intl.NumberFormat(document.documentElement.lang, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(ml / per)}\u00a0${unit}`;
  };
  const value = (name) => form.elements[name]?.value ?? "";
  const count = () => {
    const drawn = [...form.querySelectorAll("input[name=vessels]:checked")].reduce(
      (sum, one) => sum + (amounts[one.value] ?? 0),
      0,
    );
    const rows = [...form.querySelectorAll("[data-jar]")].map((row) => ({
      size: row.dataset.jar ? Number(row.dataset.jar) : jarMl(row.querySelector("[name^=size_]").value, unit),
      filled: Number(row.querySelector("[name^=filled_]").value) || 0,
    }));
    const sum = evenOut({
      drawn,
      rows,
      heel: typedMl(value("heel"), unit),
      filter: typedMl(value("held_by_filter"), unit),
      tolerancePct: Number(box.dataset.pct),
      toleranceMl: Number(box.dataset.least),
    });
    box.hidden = false;
    box.dataset.state = sum.state;
    const put = (name, words) => (box.querySelector(`[data-sum=${name}]`).textContent = words);
    put("drawn", show(drawn));
    put("jars", show(sum.jars));
    put("left", show(sum.left));
    put("words", box.dataset[sum.state] ?? "");
  };
  form.addEventListener("input", count);
  count();
}

if (typeof document !== "undefined") document.querySelectorAll("[data-even]").forEach(start);

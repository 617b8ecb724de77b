// Says at once what a girth is across, while it is typed. The page works it out again when it is sent.

const NUMBER = /^\s*(\d+(?:[.,]\d+)?)\s*(cm|mm|m|in|")?\s*$/;
const CM = { cm: 1, mm: 0.1, m: 100, in: 2.54, '"': 2.54 };

/** A typed size in the field's own unit; null for what only the server can read ("4 ft 6 in"). */
export function typedSize(text, unit) {
  const found = NUMBER.exec(text);
  if (!found) return null;
  const size = (Number(found[1].replace(",", ".")) * CM[found[2] || unit]) / CM[unit];
  return size > 0 ? size : null;
}

/** What a trunk of this girth is across, with one decimal: 141 gives "44.9". */
export function across(girth) {
  return (Math.round((girth / Math.PI) * 10) / 10).toFixed(1);
}

/** The sentence for one or more stems, or nothing. */
export function sentence(sizes, unit, one, several) {
  if (!sizes.length) return "";
  const largest = Math.max(...sizes);
  const words = sizes.length > 1 ? several : one;
  return words.replace("{girth}", `${largest}\u00a0${unit}`).replace("{across}", `${across(largest)}\u00a0${unit}`);
}

function watch(part) {
  const said = part.querySelector("[data-girth-said]");
  const lines = [...part.querySelectorAll("input[type=text]")];
  const unit = part.querySelector(".measured .unit")?.textContent.trim() === "in" ? "in" : "cm";
  const say = () => {
    const round = part.querySelector("input[type=radio]:checked")?.value === "round";
    const sizes = lines.map((line) => typedSize(line.value, unit)).filter((size) => size !== null);
    said.textContent = round ? sentence(sizes, unit, part.dataset.words, part.dataset.largest) : "";
    said.hidden = !said.textContent;
  };
  part.addEventListener("input", say);
  say();
}

if (typeof document !== "undefined") for (const part of document.querySelectorAll("[data-girth]")) watch(part);

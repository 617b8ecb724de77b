// The state marks, for a canvas. The same paths stand in img/marks.svg, so list and map agree.
// Box 14 x 14. A mark is [path, how, line width in box units].
export const MARKS = {
  listed: ["M7 5a2 2 0 1 0 0 4a2 2 0 1 0 0-4z", "solid", 0],
  considered: ["M7 3.6a3.4 3.4 0 1 0 0 6.8a3.4 3.4 0 1 0 0-6.8z", "hollow", 1.6],
  asked: ["M2.8 2.6V7a4.2 4.2 0 0 0 8.4 0V2.6", "line", 2.6],
  allowed: ["M2.6 2.6h8.8v8.8H2.6z", "hollow", 1.9],
  ready: ["M1.5 1.5h11v11h-11zM7 5a2 2 0 1 0 0 4a2 2 0 1 0 0-4z", "solid", 0],
  tapped: ["M7 .7C7 .7 2.2 5.8 2.2 8.9a4.8 4.8 0 0 0 9.6 0C11.8 5.8 7 .7 7 .7z", "edged", 1.5],
  pull: ["M.8 2h12.4L7 13.2z", "solid", 0],
  resting: ["M.8 11a6.2 6.2 0 0 1 12.4 0z", "solid", 0],
  not: ["M2.8 2.8l8.4 8.4M11.2 2.8l-8.4 8.4", "line", 3],
  attention: ["M2.2 .8h2v12.6h-2zM4.2 1l8.6 3.6-8.6 3.6z", "solid", 0],
};

const BOX = 14;
const made = new Map();

function pathOf(state) {
  // Made on first use: the table above can be read where there is no canvas.
  if (!made.has(state)) made.set(state, new Path2D(MARKS[state][0]));
  return made.get(state);
}

/** The colours now in force (light, dark, more contrast), read once for many marks. */
export function readPalette(element = document.documentElement) {
  const style = getComputedStyle(element);
  const token = (name) => style.getPropertyValue(`--${name}`).trim();
  const palette = {};
  for (const name of ["sheet", "snow", "ink", "ink-soft", "line", "hair", "amber", "on-amber", "m-edge", "face", "stamp"]) palette[name] = token(name);
  for (const state of Object.keys(MARKS)) palette[`m-${state}`] = token(`m-${state}`);
  return palette;
}

/** Call `again` with a fresh palette whenever the reader's colours change. */
export function watchPalette(again) {
  for (const query of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)", "(forced-colors: active)"]) {
    matchMedia(query).addEventListener("change", () => again(readPalette()));
  }
}

/** One mark, its middle at x, y. A felled tree has no mark: nothing is drawn. */
export function drawMark(g, state, x, y, size, palette = readPalette()) {
  const mark = MARKS[state];
  if (!mark) return;
  const [, how, width] = mark;
  const path = pathOf(state);
  const colour = palette[`m-${state}`];
  g.save();
  g.translate(x - size / 2, y - size / 2);
  g.scale(size / BOX, size / BOX);
  g.lineJoin = "round";
  g.lineWidth = 3 + width;                       // halo, so that streets do not touch the mark
  g.strokeStyle = palette.sheet;
  g.stroke(path);
  g.fillStyle = palette.sheet;
  if (state !== "not" && state !== "attention") g.fill(path);    // nothing shows through
  g.strokeStyle = g.fillStyle = colour;
  g.lineWidth = width;
  if (how === "hollow") { g.fillStyle = palette.sheet; g.fill(path); g.stroke(path); }
  if (how === "line") { g.lineJoin = "miter"; g.stroke(path); }
  if (how === "solid") g.fill(path, "evenodd");
  if (how === "edged") { g.fill(path); g.strokeStyle = palette["m-edge"]; g.stroke(path); }
  g.restore();
}

/** The flag at the upper right of a mark: something here needs a look. */
export function drawFlag(g, x, y, size, palette = readPalette()) {
  drawMark(g, "attention", x + size * 0.78, y - size * 0.55, size * 0.8, palette);
}

/** The ink bar under a tree that is chosen. */
export function drawChosen(g, x, y, size, palette = readPalette()) {
  g.save();
  g.fillStyle = palette.sheet;
  g.fillRect(x - size / 2 - 1, y + size * 0.66 - 1, size + 2, 4.5);
  g.fillStyle = palette.ink;
  g.fillRect(x - size / 2, y + size * 0.66, size, 2.5);
  g.restore();
}

/** Four corner brackets round the tree whose card is open. */
export function drawOpen(g, x, y, size, palette = readPalette()) {
  const reach = size / 2 + 6, arm = 8;
  g.save();
  for (const [width, colour] of [[6, palette.sheet], [3, palette.ink]]) {
    g.lineWidth = width;
    g.strokeStyle = colour;
    g.beginPath();
    for (const sx of [-1, 1]) for (const sy of [-1, 1]) {
      g.moveTo(x + sx * reach, y + sy * (reach - arm));
      g.lineTo(x + sx * reach, y + sy * reach);
      g.lineTo(x + sx * (reach - arm), y + sy * reach);
    }
    g.stroke();
  }
  g.restore();
}

/** A tag of words above a point: the open tree's code. */
export function drawTag(g, words, x, y, palette = readPalette()) {
  g.save();
  g.font = `700 14px ${palette.stamp}`;
  const width = g.measureText(words).width + 18;
  g.fillStyle = palette.ink;
  g.beginPath();
  g.roundRect(x - width / 2, y - 24, width, 24, 4);
  g.fill();
  g.fillStyle = palette.snow;
  g.textAlign = "center";
  g.textBaseline = "middle";
  g.fillText(words, x, y - 11.5);
  g.restore();
}

/**
 * Many trees in one place: the count in words and an amber bar for the tapped share.
 * `share` is 0 to 1; `countWords` and `tappedWords` come ready to show, in the reader's language.
 */
export function drawCell(g, { x, y, width, height, countWords, tappedWords, share }, palette = readPalette()) {
  g.save();
  g.fillStyle = palette.sheet;
  g.strokeStyle = palette.ink;
  g.lineWidth = 1.5;
  g.fillRect(x, y, width, height);
  if (share > 0) {
    g.fillStyle = palette["m-tapped"];
    g.fillRect(x, y + height - 8, width * Math.min(1, share), 8);
    g.strokeRect(x, y + height - 8, width * Math.min(1, share), 8);
  }
  g.strokeRect(x, y, width, height);
  g.textAlign = "center";
  g.textBaseline = "middle";
  g.fillStyle = palette.ink;
  g.font = `750 ${Math.min(18, height / 3)}px ${palette.face}`;
  g.fillText(countWords, x + width / 2, y + height * 0.32, width - 6);
  g.fillStyle = palette["ink-soft"];
  g.font = `400 ${Math.min(12, height / 4)}px ${palette.face}`;
  g.fillText(tappedWords, x + width / 2, y + height * 0.62, width - 6);
  g.restore();
}

/** Marks drawn once and stamped many times: thousands of trees a frame. `ratio` is devicePixelRatio. */
export function makeStamps(size, ratio, palette = readPalette()) {
  const room = size + 6;
  const stamps = new Map();
  for (const state of Object.keys(MARKS)) {
    const sheet = document.createElement("canvas");
    sheet.width = sheet.height = Math.ceil(room * ratio);
    const g = sheet.getContext("2d");
    g.scale(ratio, ratio);
    drawMark(g, state, room / 2, room / 2, size, palette);
    stamps.set(state, sheet);
  }
  return {
    size,
    draw(g, state, x, y) {
      const sheet = stamps.get(state);
      if (sheet) g.drawImage(sheet, x - room / 2, y - room / 2, room, room);
    },
  };
}

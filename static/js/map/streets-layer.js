// The town's own lines as the base map: single ink streets, names along them, waves for water.
import { labelPlace, partsOnScreen, wave, worldX, worldY } from "./geometry.js";

/** Lines as they come ([name, kind, points]) made ready for drawing: world units, with their box. */
export function prepared(lines) {
  return lines.map(([name, kind, points]) => {
    const world = points.map(([lon, lat]) => [worldX(lon), worldY(lat)]);
    const xs = world.map((p) => p[0]), ys = world.map((p) => p[1]);
    return { name, kind, world, left: Math.min(...xs), right: Math.max(...xs), top: Math.min(...ys), bottom: Math.max(...ys) };
  });
}

const NAMES_FROM = 15;     // further out they would cover the town
const WIDTHS = { street: 2.5, lane: 1.25, path: 1.25 };

/** Draw the streets and waters of a view, and the groups' bounds. */
export function drawStreets(g, view, { lines, areas, palette }) {
  const seen = seenIn(view, lines);
  g.lineCap = g.lineJoin = "round";
  for (const [line, points] of seen) if (line.kind === "water") drawWater(g, points, view, palette);
  for (const [line, points] of seen) if (line.kind !== "water") drawLine(g, line, points, view, palette);
  drawAreas(g, view, areas, palette);
}

/** The lines that touch the view, with their points on the screen. */
function seenIn(view, lines) {
  const seen = [];
  for (const line of lines) {
    if (line.right * view.world < view.left - 40 || line.left * view.world > view.left + view.width + 40) continue;
    if (line.bottom * view.world < view.top - 40 || line.top * view.world > view.top + view.height + 40) continue;
    seen.push([line, line.world.map(([x, y]) => [x * view.world - view.left, y * view.world - view.top])]);
  }
  return seen;
}

function trace(g, points) {
  points.forEach(([x, y], n) => (n ? g.lineTo(x, y) : g.moveTo(x, y)));
}

function drawLine(g, line, points, view, palette) {
  g.strokeStyle = palette.line;
  g.lineWidth = (WIDTHS[line.kind] ?? WIDTHS.street) * (view.zoom < 15 ? 0.6 : 1);
  g.setLineDash(line.kind === "path" ? [6, 5] : []);
  g.beginPath();
  trace(g, points);
  g.stroke();
  g.setLineDash([]);
}

function drawWater(g, points, view, palette) {
  g.strokeStyle = palette["m-asked"];
  g.globalAlpha = 0.55;
  g.lineWidth = 1.25;
  const sides = view.zoom >= 16 ? [-16, -8, 0, 8, 16] : view.zoom >= 14 ? [-5, 0, 5] : [0];
  for (const side of sides) {
    g.beginPath();
    trace(g, wave(points, 40, view.zoom >= 15 ? 3 : 1.5, side));
    g.stroke();
  }
  g.globalAlpha = 1;
}

function drawAreas(g, view, areas, palette) {
  g.strokeStyle = palette.ink;
  g.lineWidth = 1.5;
  g.setLineDash([1, 6]);
  for (const area of areas) for (const ring of area.rings) {
    g.beginPath();
    trace(g, ring.map(([x, y]) => [x * view.world - view.left, y * view.world - view.top]));
    g.closePath();
    g.stroke();
  }
  g.setLineDash([]);
}

/** Rings of the groups' areas (GeoJSON) in world units. */
export function preparedAreas(areas) {
  return areas.map(({ name, area }) => {
    const shape = area.geometry ?? area;
    const polygons = shape.type === "MultiPolygon" ? shape.coordinates : shape.type === "Polygon" ? [shape.coordinates] : [];
    return { name, rings: polygons.flat().map((ring) => ring.map(([lon, lat]) => [worldX(lon), worldY(lat)])) };
  });
}

/** Names along the lines: above plain dots, below the marks of the programme's trees. */
export function drawNames(g, view, { lines, palette }) {
  if (view.zoom < NAMES_FROM) return;
  g.save();
  const taken = [];
  g.font = `italic 13.5px ${palette.face}`;
  g.textAlign = "center";
  g.textBaseline = "middle";
  g.lineJoin = "round";
  for (const [line, points] of seenIn(view, lines)) {
    if (!line.name) continue;
    const width = g.measureText(line.name).width;
    const place = partsOnScreen(points, view.width, view.height).map((part) => labelPlace(part, width + 12)).find(Boolean);
    if (!place || taken.some((t) => t.name === line.name || Math.hypot(t.x - place.x, t.y - place.y) < (t.width + width) / 2)) continue;
    taken.push({ name: line.name, x: place.x, y: place.y, width });
    g.save();
    g.translate(place.x, place.y);
    g.rotate(place.angle);
    g.strokeStyle = palette.sheet;
    g.lineWidth = 4;
    g.strokeText(line.name, 0, 0);
    g.fillStyle = palette["ink-soft"];
    g.fillText(line.name, 0, 0);
    g.restore();
  }
  g.restore();
}

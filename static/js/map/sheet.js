// The bare sheet: a Leaflet map without its own buttons, with streets or tiles below.
import { readPalette, watchPalette } from "../marks.js";
import { CanvasLayer } from "./canvas-layer.js";
import { drawStreets, prepared, preparedAreas } from "./streets-layer.js";

const L = globalThis.L;
export const FARTHEST = 9, CLOSEST = 20;
const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;

export function makeMap(element, label) {
  element.replaceChildren();
  const map = L.map(element, {
    zoomControl: false, attributionControl: false, boxZoom: false, inertia: !calm,
    zoomAnimation: false, fadeAnimation: false, markerZoomAnimation: false, minZoom: FARTHEST, maxZoom: CLOSEST,
  });
  element.setAttribute("role", "application");
  element.setAttribute("aria-label", label);
  return map;
}

// Zooms come in doublings: a box a hair too large would be drawn at half the size it could have. So a little at
// each edge may lie outside the sheet; a box drawn from a file has a wider margin than that.
const SPILL = -0.06;

/** Fit the map to [west, south, east, north]. */
export function fit(map, corners, most = CLOSEST) {
  const [west, south, east, north] = corners;
  const padding = map.getSize().multiplyBy(SPILL);
  map.fitBounds([[south, west], [north, east]], { animate: false, maxZoom: most, padding });
}

/**
 * Below the trees, so lay it first: tiles where the programme named an address, else the town's own lines.
 * Answers {palette, lines, areas}, kept up to date; `again` is called when something of it changes.
 */
export function layGround(map, about, again = () => {}) {
  const ground = { palette: readPalette(), lines: [], areas: preparedAreas(about.areas ?? []) };
  if (about.tiles) {
    L.tileLayer(about.tiles, { maxZoom: CLOSEST, attribution: about.credit }).addTo(map);
    L.control.attribution({ prefix: false, position: "bottomright" }).addTo(map);
  }
  const layer = new CanvasLayer((g, view) => drawStreets(g, view, ground));
  layer.addTo(map);
  watchPalette((palette) => { ground.palette = palette; layer.again(); again(); });
  if (!about.tiles) fetchLines(about.urls.streets).then((lines) => { ground.lines = lines; layer.again(); again(); });
  return ground;
}

async function fetchLines(url) {
  try {
    const response = await fetch(url, { headers: { Accept: "application/json" } });
    return response.ok && !response.redirected ? prepared((await response.json()).lines) : [];
  } catch {
    return [];     // without streets the trees still stand in their places
  }
}

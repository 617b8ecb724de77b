// A small map for one place in a form: press it, or move it by a metre, or type the degrees. All three agree.
import { CanvasLayer } from "./canvas-layer.js";
import { Pin } from "./pin.js";
import { drawNames } from "./streets-layer.js";
import { fit, layGround, makeMap } from "./sheet.js";

const NEAR_DEG = 0.0006;

export function placeField(field) {
  const about = JSON.parse(field.querySelector("script[type='application/json']").textContent);
  const [lonBox, latBox] = ["lon", "lat"].map((name) => field.querySelector(`[data-place="${name}"] input`));
  const map = makeMap(field.querySelector("[data-place='map']"), about.words.label);
  const says = field.querySelector("[data-place='says']");
  let typing = false;

  const pin = new Pin((place, way) => {
    if (!typing) [lonBox.value, latBox.value] = [String(place.lon), String(place.lat)];
    says.textContent = way ? about.words[way] : "";
    sheet.again();
    const here = [place.lat, place.lon];
    if (!map.getBounds().pad(-0.1).contains(here)) map.setView(here, Math.max(map.getZoom(), 18), { animate: false });
  });
  const typed = () => [lonBox, latBox].map((box) => (box.value.trim() ? Number(box.value.trim().replace(",", ".")) : NaN));
  const [lon, lat] = typed();
  const known = Number.isFinite(lon) && Number.isFinite(lat);
  fit(map, known ? [lon - NEAR_DEG, lat - NEAR_DEG, lon + NEAR_DEG, lat + NEAR_DEG] : about.whole ?? [-0.01, -0.01, 0.01, 0.01], 19);

  const ground = layGround(map, about, () => sheet.again());
  const sheet = new CanvasLayer((g, view) => {
    drawNames(g, view, ground);
    pin.paint(g, view, ground.palette);
  });
  sheet.addTo(map);
  if (known) pin.set(lon, lat);

  map.on("click", (event) => pin.set(event.latlng.lng, event.latlng.lat));
  for (const box of [lonBox, latBox]) {
    box.addEventListener("input", () => {
      const [x, y] = typed();
      if (!(Math.abs(x) <= 180 && Math.abs(y) <= 85)) return;
      typing = true;
      pin.set(x, y);
      typing = false;
    });
  }
  field.addEventListener("click", (event) => {
    const press = event.target.closest("[data-nudge], [data-zoom]");
    if (!press) return;
    if (press.dataset.zoom) map.setZoom(map.getZoom() + Number(press.dataset.zoom));
    if (press.dataset.nudge) {
      if (!pin.isSet) { const middle = map.getCenter(); pin.set(middle.lng, middle.lat); }
      pin.nudge(press.dataset.nudge);
    }
  });
  field.querySelector("[data-place='acts']").hidden = false;
}

for (const field of document.querySelectorAll("[data-place-field]")) placeField(field);

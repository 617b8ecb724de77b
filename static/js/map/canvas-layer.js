// A canvas over the map, drawn again whenever the map moves. No element for a tree.
const L = globalThis.L;

/** A Leaflet layer that calls `paint(g, view)`; view has size, zoom, box and point(lon, lat) -> [x, y]. */
export const CanvasLayer = L.Layer.extend({
  initialize(paint, { pane = "overlayPane" } = {}) {
    this._paint = paint;
    this.options = { pane };
  },

  onAdd(map) {
    this._canvas = L.DomUtil.create("canvas", "leaflet-zoom-hide");
    this._canvas.setAttribute("aria-hidden", "true");
    this.getPane().append(this._canvas);
    map.on("move zoomend viewreset resize", this.again, this);
    this.again();
  },

  onRemove(map) {
    map.off("move zoomend viewreset resize", this.again, this);
    cancelAnimationFrame(this._frame);
    this._canvas.remove();
  },

  /** Draw once more, with the next frame. */
  again() {
    this._frame ??= requestAnimationFrame(() => {
      this._frame = null;
      if (this._map) this._draw();
    });
  },

  _draw() {
    const map = this._map, size = map.getSize(), ratio = devicePixelRatio || 1;
    const [width, height] = [Math.round(size.x * ratio), Math.round(size.y * ratio)];
    if (this._canvas.width !== width || this._canvas.height !== height) {
      Object.assign(this._canvas, { width, height });
      Object.assign(this._canvas.style, { width: `${size.x}px`, height: `${size.y}px` });
    }
    L.DomUtil.setPosition(this._canvas, map.containerPointToLayerPoint([0, 0]));
    const g = this._canvas.getContext("2d");
    g.setTransform(ratio, 0, 0, ratio, 0, 0);
    g.clearRect(0, 0, size.x, size.y);
    this._paint(g, viewOf(map));
  },
});

/** The view of the map as plain numbers, with a quick way from degrees to the screen. */
export function viewOf(map) {
  const size = map.getSize(), zoom = map.getZoom(), world = 256 * 2 ** zoom;
  const corner = map.getPixelBounds().min;
  const bounds = map.getBounds();
  return {
    width: size.x,
    height: size.y,
    zoom,
    world,
    left: corner.x,
    top: corner.y,
    box: { west: bounds.getWest(), south: bounds.getSouth(), east: bounds.getEast(), north: bounds.getNorth() },
  };
}

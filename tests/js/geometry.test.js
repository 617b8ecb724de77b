// Plane geometry of the map, checked against published values and against laws that must hold.
import assert from "node:assert/strict";
import test from "node:test";
import * as geo from "../../static/js/map/geometry.js";

// A small generator so that a failing case can be run again (Park and Miller's minimal standard, 1988).
function dice(seed) {
  let state = seed;
  return () => (state = (state * 48271) % 2147483647) / 2147483647;
}

test("a published place lies where its worked example says", () => {
  // Just south of where the equator meets the first meridian begins the lower right one of the four middle tiles.
  assert.deepEqual(geo.tilesOf({ west: 0, south: -1e-9, east: 0, north: -1e-9 }, 17), [[17, 65536, 65536]]);
  // EPSG:3857 (IOGP guidance note 7-2, Popular Visualisation Pseudo Mercator, worked example):
  // latitude 24 22' 54.433" N, longitude 100 20' 00" W gives easting -11169055.58 m, northing 2800000.00 m.
  const [easting, northing] = [-11169055.58, 2800000.0];
  const half = Math.PI * 6378137;
  assert.ok(Math.abs((geo.worldX(-(100 + 20 / 60)) * 2 - 1) * half - easting) < 0.01);
  assert.ok(Math.abs((1 - geo.worldY(24 + 22 / 60 + 54.433 / 3600) * 2) * half - northing) < 0.02);
});

test("degrees to the sheet and back is the same place", () => {
  const roll = dice(7);
  for (let n = 0; n < 500; n++) {
    const [lon, lat] = [roll() * 360 - 180, roll() * 170 - 85];
    assert.ok(Math.abs(geo.lonOf(geo.worldX(lon)) - lon) < 1e-9);
    assert.ok(Math.abs(geo.latOf(geo.worldY(lat)) - lat) < 1e-9);
  }
});

test("the tiles of a view cover it, and no tile lies beside it", () => {
  const roll = dice(11);
  for (let n = 0; n < 200; n++) {
    const west = -87.4 + roll() * 0.1, south = 47 + roll() * 0.1;
    const box = { west, south, east: west + roll() * 0.05, north: south + roll() * 0.03 };
    const zoom = 12 + Math.floor(roll() * 6), side = 2 ** zoom;
    const names = new Set(geo.tilesOf(box, zoom).map(([, x, y]) => `${x}/${y}`));
    for (let m = 0; m < 20; m++) {
      const [lon, lat] = [box.west + roll() * (box.east - box.west), box.south + roll() * (box.north - box.south)];
      assert.ok(names.has(`${Math.floor(geo.worldX(lon) * side)}/${Math.floor(geo.worldY(lat) * side)}`));
    }
    for (const name of names) {
      const [x, y] = name.split("/").map(Number);
      assert.ok(geo.lonOf((x + 1) / side) >= box.west && geo.lonOf(x / side) <= box.east);
      assert.ok(geo.latOf(y / side) >= box.south && geo.latOf((y + 1) / side) <= box.north);
    }
  }
});

test("tiles asked for are about two screens' worth at every zoom", () => {
  for (let zoom = 9; zoom <= 20; zoom++) assert.ok(geo.tileZoom(zoom) <= 17 && geo.tileZoom(zoom) >= 8);
  assert.equal(geo.tileZoom(17), 16);
  assert.equal(geo.cellZoom(14), 15);
});

test("a point is inside a ring just when a walk round it winds once", () => {
  // The winding number (sum of the turned angles over a full turn) is another way to the same answer.
  const roll = dice(23);
  const ring = Array.from({ length: 12 }, (_, n) => {
    const [angle, reach] = [(n * Math.PI) / 6, 20 + roll() * 80];
    return [100 + reach * Math.cos(angle), 100 + reach * Math.sin(angle)];
  });
  let inside = 0;
  for (let n = 0; n < 2000; n++) {
    const [x, y] = [roll() * 200, roll() * 200];
    let turned = 0;
    ring.forEach(([ax, ay], i) => {
      const [bx, by] = ring[(i + 1) % ring.length];
      turned += Math.atan2((ax - x) * (by - y) - (ay - y) * (bx - x), (ax - x) * (bx - x) + (ay - y) * (by - y));
    });
    const winds = Math.abs(turned) > Math.PI;
    assert.equal(geo.inRing(x, y, ring), winds);
    inside += winds;
  }
  assert.ok(inside > 200 && inside < 1800);
});

test("counts in cells add up to the trees, whichever way they came", () => {
  const roll = dice(31);
  const rows = Array.from({ length: 3000 }, (_, id) => [id, -87.4 + roll() * 0.1, 47 + roll() * 0.1, 1, 1, roll() < 0.2 ? 5 : 0, 0]);
  for (const row of rows) row.push(geo.worldX(row[1]), geo.worldY(row[2]));
  const fine = geo.intoCells(rows, 17, 5), direct = geo.intoCells(rows, 15, 5);
  const summed = geo.coarser(fine.values(), 17, 15);
  const plain = (cells) => [...cells.values()].map(String).sort();
  assert.deepEqual(plain(summed), plain(direct));
  assert.equal([...direct.values()].reduce((sum, cell) => sum + cell[2], 0), rows.length);
  assert.equal([...direct.values()].reduce((sum, cell) => sum + cell[3], 0), rows.filter((row) => row[5] === 5).length);
});

test("one metre north and one metre east are a metre long", () => {
  // WGS 84 at 47 degrees: a degree of latitude is 111,172 m, of longitude 76,056 m (NGA, length of a degree
  // calculator, from memory); the sphere used here may differ by half a per cent.
  const [lon, lat] = geo.moved(-87.35, 47, 1, 1);
  assert.ok(Math.abs((lat - 47) * 111172 - 1) < 0.005);
  assert.ok(Math.abs((lon + 87.35) * 76056 - 1) < 0.005);
  const back = geo.moved(...geo.moved(-87.35, 47, 0, 1), 0, -1);
  assert.ok(Math.abs(back[1] - 47) < 1e-12);
});

test("the nearest mark within reach is picked, none beyond it", () => {
  const marks = [[10, 10], [20, 10], [100, 100]];
  const at = (mark) => mark;
  assert.deepEqual(geo.nearest(marks, 17, 11, 16, at), [20, 10]);
  assert.equal(geo.nearest(marks, 60, 60, 16, at), null);
});

test("names read from left to right and stand where the street is straight", () => {
  const place = geo.labelPlace([[200, 0], [0, 10]], 80);
  assert.ok(Math.abs(place.angle) <= Math.PI / 2 && Math.abs(place.angle + Math.atan2(10, 200)) < 1e-9);
  assert.equal(geo.labelPlace([[0, 0], [50, 0]], 80), null);
  const corner = geo.labelPlace([[0, 0], [100, 0], [100, 300]], 80);
  assert.ok(corner.x > 99 && Math.abs(Math.abs(corner.angle) - Math.PI / 2) < 1e-9);
});

test("a line is cut at the edge of the screen", () => {
  assert.deepEqual(geo.clip([-50, 50], [150, 50], 100, 100), [[0, 50], [100, 50]]);
  assert.equal(geo.clip([-50, -10], [150, -10], 100, 100), null);
  assert.equal(geo.partsOnScreen([[10, 10], [20, 20], [300, 20], [300, 80], [20, 80]], 100, 100).length, 2);
});

test("squares are named A to D from the left, 1 to 4 from the top", () => {
  assert.equal(geo.squareAt(0, 0, 400, 400), "A1");
  assert.equal(geo.squareAt(399, 399, 400, 400), "D4");
  assert.equal(geo.squareAt(400, 0, 400, 400), "D1");
  assert.equal(geo.squareAt(150, 250, 400, 400), "B3");
});

test("thinning a drawn line keeps its start and loses only near points", () => {
  assert.deepEqual(geo.thinned([[0, 0], [1, 0], [2, 0], [5, 0]], 3), [[0, 0], [5, 0]]);
});

test("a cell's box is whole where the sheet's edge would cut it, and never lies on its neighbour's", () => {
  // Cells of 128 with boxes of 104, as at the town's edge: 12 to each side, so neighbours stand 24 apart.
  assert.deepEqual(geo.boxIn(256, 128, 104, 686), { at: 268, size: 104 });
  const cut = geo.boxIn(596, 128, 104, 686);
  assert.ok(cut.at + cut.size <= 682);
  assert.ok(cut.at >= 596 - 12 + 4);
  const left = geo.boxIn(-40, 128, 104, 686);
  assert.equal(left.at, 22);
  assert.ok(left.at + left.size <= -40 + 128 + 12 - 4);
  assert.equal(geo.boxIn(700, 128, 104, 686), null);
  assert.equal(geo.boxIn(-200, 128, 104, 686), null);
  // So little in view that nothing could be read: it stays where it is, cut.
  assert.deepEqual(geo.boxIn(660, 128, 104, 686), { at: 672, size: 104 });
});

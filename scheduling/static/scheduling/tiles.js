// The round on a tile map, where the house has tiles configured: <div data-tile-map
// data-tiles="https://…/{z}/{x}/{y}.png" data-credit="…" data-home="lat,lon" hidden>.
// Stops are the elements with data-lat, data-lon, data-number, data-name. The SVG map
// stays below it, and is what there is without scripts or tiles.
import * as L from "../practice/vendor/leaflet-1.9.4/leaflet-src.esm.js";

function number(stop) {
  const face = document.createElement("span");
  face.className = "tile-number";
  face.textContent = stop.dataset.number;
  return L.divIcon({ html: face, className: "", iconSize: [28, 28] });
}

for (const place of document.querySelectorAll("[data-tile-map]")) {
  const stops = [...document.querySelectorAll("[data-lat][data-lon]")];
  const points = stops.map((stop) => [Number(stop.dataset.lat), Number(stop.dataset.lon)]);
  const home = place.dataset.home.split(",").map(Number);
  const hasHome = home.length === 2 && place.dataset.home.length > 1;
  const way = hasHome ? [home, ...points, home] : points;
  if (!way.length) continue;
  place.hidden = false;
  const map = L.map(place);
  L.tileLayer(place.dataset.tiles, {
    maxZoom: 18,
    attribution: place.dataset.credit,
    // Public tile servers answer 403 without a referrer, which the house sends nobody.
    referrerPolicy: "strict-origin-when-cross-origin",
  }).addTo(map);
  L.polyline(way, { color: "#74472a", weight: 4, opacity: 0.8 }).addTo(map);
  stops.forEach((stop, at) => {
    L.marker(points[at], { icon: number(stop), title: stop.dataset.name })
      .addTo(map)
      .on("click", () => stop.scrollIntoView({ behavior: "smooth" }));
  });
  if (hasHome) {
    L.circleMarker(home, { radius: 7, color: "#25221e", fillOpacity: 1 }).addTo(map);
  }
  map.fitBounds(L.latLngBounds(way), { padding: [30, 30], maxZoom: 14 });
}

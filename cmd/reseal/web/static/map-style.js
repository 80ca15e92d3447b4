// How the map is drawn: outlines behind, then bridges or joints by one scale.

const css = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

// shadeOf are the shades of a scale's classes, by their number.
const byClass = (shades, value) => ["match", ["get", "class"], ...shades.flatMap((s, k) => [k, value(s, k)]), value(0, 0)];
const colour = s => s === 0 ? css("--paper") : css("--shade" + s);
const growing = (shades, stops) => ["interpolate", ["linear"], ["zoom"], ...stops.flatMap(([zoom, base, more]) => [zoom, byClass(shades, s => base + more * s)])];

export const radius = shades => growing(shades, [[4, 1.6, 0.25], [8, 2.6, 0.5], [13, 6, 0.8]]);

// paintOf is what changes with the scale and with light or dark.
function paintOf(shades) {
  const edge = byClass(shades, s => s === 0 ? css("--quiet") : s === 5 ? css("--alarm") : css("--rim"));
  return {
    bridges: {
      "circle-radius": radius(shades), "circle-color": byClass(shades, colour), "circle-stroke-color": edge,
      "circle-stroke-width": ["interpolate", ["linear"], ["zoom"], 5, byClass(shades, s => s === 0 || s === 5 ? 0.8 : 0.3), 12, byClass(shades, s => s === 5 ? 2 : 1)],
    },
    edges: {"line-color": edge, "line-width": growing(shades, [[14, 4.5, 0.4], [17, 6, 0.6], [20, 12, 1]])},
    joints: {"line-color": byClass(shades, colour), "line-width": growing(shades, [[14, 3, 0.4], [17, 4, 0.6], [20, 9, 1]])},
  };
}

const source = (tiles, maxZoom) => ({type: "vector", tiles: [tiles], minzoom: 0, maxzoom: maxZoom});

function networkLayers(jointZoom, shades) {
  const paint = paintOf(shades), line = id => ({id, type: "line", source: "network", "source-layer": "joints", minzoom: jointZoom, paint: paint[id]});
  return [line("edges"), line("joints"), {id: "bridges", type: "circle", source: "network", "source-layer": "bridges", paint: paint.bridges}];
}

// networkStyle draws the network alone; what lies behind it comes later.
export function networkStyle(tiles, maxZoom, jointZoom, shades) {
  return {
    version: 8, transition: {duration: 0}, sources: {network: source(tiles, maxZoom)},
    layers: [{id: "land", type: "background", paint: {"background-color": css("--land")}}, ...networkLayers(jointZoom, shades)],
  };
}

// replaceNetwork draws other tiles. It puts a new source in the old one's place:
// one that is given other tiles and other colours at once may keep the old tiles,
// which would then have colours that mean something else.
export function replaceNetwork(map, tiles, maxZoom, jointZoom, shades) {
  const layers = networkLayers(jointZoom, shades), next = map.getLayer("selection-fill") && "selection-fill";
  for (const {id} of layers) map.removeLayer(id);
  map.removeSource("network");
  map.addSource("network", source(tiles, maxZoom));
  for (const layer of layers) map.addLayer(layer, next);
}

export function repaint(map, shades) {
  const paint = paintOf(shades);
  for (const id of Object.keys(paint)) for (const [name, value] of Object.entries(paint[id])) map.setPaintProperty(id, name, value);
  const fixed = {land: ["background-color", "--land"], sea: ["fill-color", "--water"], counties: ["line-color", "--outline"], states: ["line-color", "--quiet"],
    "selection-fill": ["fill-color", "--accent"], "selection-line": ["line-color", "--accent"]};
  for (const [id, [name, variable]] of Object.entries(fixed)) if (map.getLayer(id)) map.setPaintProperty(id, name, css(variable));
}

// addOutlines puts the sea and the outlines of counties and states behind
// everything. Inland nothing but lines is drawn over the land, and one source holds
// all: each fill of the whole map counts where it is drawn in software.
export function addOutlines(map, atlas, first) {
  const {topojson} = window;
  const feature = (kind, geometry) => ({type: "Feature", properties: {kind}, geometry});
  const lands = topojson.feature(atlas, atlas.objects.nation).features.flatMap(({geometry: g}) => g.type === "Polygon" ? [g.coordinates] : g.coordinates);
  const world = [[-180, -85], [180, -85], [180, 85], [-180, 85], [-180, -85]];
  const sea = [[world, ...lands.map(rings => rings[0])], ...lands.flatMap(rings => rings.slice(1).map(lake => [lake]))];
  map.addSource("outlines", {type: "geojson", tolerance: 0.4, data: {type: "FeatureCollection", features: [
    feature("sea", {type: "MultiPolygon", coordinates: sea}),
    feature("counties", topojson.mesh(atlas, atlas.objects.counties, (a, b) => a !== b)),
    feature("states", topojson.mesh(atlas, atlas.objects.states)),
  ]}});
  const add = (id, layer) => map.addLayer({id, source: "outlines", filter: ["==", ["get", "kind"], id], ...layer}, first());
  add("sea", {type: "fill", paint: {"fill-color": css("--water"), "fill-antialias": false}});
  add("counties", {type: "line", minzoom: 5.5, paint: {"line-color": css("--outline"), "line-width": 0.7}});
  add("states", {type: "line", paint: {"line-color": css("--quiet"), "line-width": 1.2}});
}

// addBackground puts the agency's own map behind the network: tiles at an
// address, or an archive that this server keeps.
export async function addBackground(map, address, reader, first) {
  if (address.includes("{z}")) {
    map.addSource("background", {type: "raster", tiles: [address], tileSize: 256});
    map.addLayer({id: "background", type: "raster", source: "background"}, first());
    return;
  }
  await script(reader);
  const archive = new window.pmtiles.PMTiles(location.origin + address);
  const protocol = new window.pmtiles.Protocol();
  protocol.add(archive);
  window.maplibregl.addProtocol("pmtiles", protocol.tile);
  const head = await archive.getHeader(), url = "pmtiles://" + location.origin + address;
  if (head.tileType !== 1) {
    map.addSource("background", {type: "raster", url, tileSize: 256});
    map.addLayer({id: "background", type: "raster", source: "background"}, first());
    return;
  }
  map.addSource("background", {type: "vector", url});
  for (const layer of (await archive.getMetadata()).vector_layers || []) {
    map.addLayer({id: "background-" + layer.id, type: "line", source: "background", "source-layer": layer.id, paint: {"line-color": css("--outline"), "line-width": 1}}, first());
  }
}

// script loads one that is no module.
const script = src => new Promise((resolve, reject) => {
  const el = document.createElement("script");
  Object.assign(el, {src, onload: resolve, onerror: () => reject(new Error(src))});
  document.head.append(el);
});

export function showSelection(map, ring) {
  const data = {type: "FeatureCollection", features: ring ? [{type: "Feature", properties: {}, geometry: {type: "Polygon", coordinates: [[...ring, ring[0]]]}}] : []};
  if (map.getSource("selection")) return map.getSource("selection").setData(data);
  map.addSource("selection", {type: "geojson", data});
  map.addLayer({id: "selection-fill", type: "fill", source: "selection", paint: {"fill-color": css("--accent"), "fill-opacity": 0.1}});
  map.addLayer({id: "selection-line", type: "line", source: "selection", paint: {"line-color": css("--accent"), "line-width": 2, "line-dasharray": [2, 1]}});
}

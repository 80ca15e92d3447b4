// Drawing a box or a lasso over the map, by mouse, pen or finger.

const most = 60; // corners of a lasso: the address carries them

// draw lets the person draw one shape and resolves to its ring of [x, y] in
// the pixels of the map; null where it was given up.
export function draw(over, tool, signal) {
  return new Promise(resolve => {
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    const shape = document.createElementNS(svg.namespaceURI, "polygon");
    svg.append(shape);
    over.replaceChildren(svg);
    over.hidden = false;
    let points = [];
    const at = e => { const r = over.getBoundingClientRect(); return [e.clientX - r.left, e.clientY - r.top]; };
    const ring = () => tool === "lasso" ? points : corners(points[0], points[points.length - 1]);
    const end = ring => { over.hidden = true; over.replaceChildren(); stop.abort(); resolve(ring); };
    const stop = new AbortController(), options = {signal: stop.signal};
    over.addEventListener("pointerdown", e => { points = [at(e)]; over.setPointerCapture(e.pointerId); e.preventDefault(); }, options);
    over.addEventListener("pointermove", e => {
      if (!points.length) return;
      points.push(at(e));
      shape.setAttribute("points", ring().map(p => p.join()).join(" "));
    }, options);
    over.addEventListener("pointerup", e => {
      if (!points.length) return;
      points.push(at(e));
      const r = thin(ring());
      end(area(r) < 25 ? null : r); // a slip of the hand
    }, options);
    over.addEventListener("pointercancel", () => end(null), options);
    document.addEventListener("keydown", e => { if (e.key === "Escape") end(null); }, options);
    signal.addEventListener("abort", () => end(null), options);
  });
}

const corners = (a, b) => [[a[0], a[1]], [b[0], a[1]], [b[0], b[1]], [a[0], b[1]]];

const area = ring => Math.abs(ring.reduce((sum, p, i) => { const q = ring[(i + 1) % ring.length]; return sum + p[0] * q[1] - q[0] * p[1]; }, 0)) / 2;

// thin leaves out corners evenly.
function thin(ring) {
  const step = Math.max(1, Math.ceil(ring.length / most));
  return ring.filter((_, i) => i % step === 0);
}

// The joints nearest to where the phone is: asked of the server, or where there
// is no link found among those taken along.
import * as store from "./field-store.js";

const here = () => new Promise((done, fail) => navigator.geolocation.getCurrentPosition(p => done(p.coords), fail, {enableHighAccuracy: true, timeout: 20000, maximumAge: 30000}));

const RADIUS_FT = 20902231; // mean, of the earth
function distanceFt(a, b) {
  const rad = d => d * Math.PI / 180, s = v => Math.sin(v / 2) ** 2;
  const h = s(rad(b.lat - a.lat)) + Math.cos(rad(a.lat)) * Math.cos(rad(b.lat)) * s(rad(b.lon - a.lon));
  return 2 * RADIUS_FT * Math.asin(Math.sqrt(h));
}

async function nearest(lon, lat) {
  try {
    const r = await fetch(`/api/joints/nearest?lon=${lon}&lat=${lat}`);
    if (!r.ok) throw new TypeError("no link");
    return (await r.json()).joints;
  } catch {
    const route = await store.get("notes", "route");
    return (route?.joints || []).filter(j => j.lon !== undefined)
      .map(j => ({...j, distance_ft: distanceFt({lon, lat}, j)})).sort((a, b) => a.distance_ft - b.distance_ft).slice(0, 5);
  }
}

const far = ft => ft < 1000 ? `${Math.round(ft)} ft` : `${(ft / 5280).toFixed(1)} mi`;

// offer fills the list of the nearest joints when the button is pressed; make
// makes what is pressed for a joint.
export function offer(make) {
  const button = document.getElementById("near"), list = document.getElementById("near-list");
  button?.addEventListener("click", async () => {
    const say = text => {
      const item = document.createElement("li");
      item.textContent = text;
      list.replaceChildren(item);
      list.hidden = false;
    };
    say("Asking the phone where it is…");
    let at;
    try {
      at = await here();
    } catch (e) {
      say(e.code === 1 ? "The phone does not give its place to this page. Allow it in the browser's settings, or type the tag." : "The phone does not know where it is. Type the tag.");
      return;
    }
    const joints = await nearest(at.longitude, at.latitude);
    if (!joints.length) {
      say("No joint is near.");
      return;
    }
    list.replaceChildren(...joints.map(j => {
      const item = document.createElement("li"), choice = make(j);
      choice.textContent = `${j.tag}${j.label ? ` ${j.label}` : ""}: ${far(j.distance_ft)} away, ${j.place} of ${j.facility_carried || "the bridge"} over ${j.feature_intersected || "–"}`;
      item.append(choice);
      return item;
    }));
  });
}

// What can be told beside the joint without a network: the same rules as the
// server's, which has the last word. Its test holds both against each other.
const SLACK_FT = 1, SLACK = 0.02; // quantities are whole feet; share of the length
const STATES = ["cs1_ft", "cs2_ft", "cs3_ft", "cs4_ft"];

const states = feet => STATES.map(s => (feet || []).reduce((sum, f) => sum + (f[s] || 0), 0));
const worstOf = ft => ft.findLastIndex(v => v > 0) + 1;
const total = ft => ft.reduce((a, b) => a + b, 0);
const round = v => Number(v.toPrecision(4));
const days = (from, to) => (Date.parse(to) - Date.parse(from)) / 86400e3;

// leftFt is what is missing of a stretch's length; null where it is not known.
export function leftFt(stretch, feet) {
  return stretch.length_ft ? stretch.length_ft - total(STATES.map(s => feet[s] || 0)) - (feet.not_seen_ft || 0) : null;
}

export const fills = (stretch, left) => left === null || Math.abs(left) <= Math.max(SLACK_FT, SLACK * stretch.length_ft);

// judge says what cannot be in an entry, and where, and what is odd.
export function judge(form, limits, entry) {
  const wrong = impossible(form, limits, entry);
  return {wrong, odd: wrong.length ? [] : [...oddCondition(form, entry), ...oddDefects(entry), ...(entry.readings || []).flatMap(r => oddReading(form, entry, r))]};
}

function impossible(form, limits, e) {
  const wrong = [];
  const refuse = (at, text) => wrong.push({at, text});
  if (!e.inspected_on) refuse("inspected_on", "give the day of the inspection");
  else if (days(form.as_of, e.inspected_on) > 0 && days(today(), e.inspected_on) > 0) refuse("inspected_on", "this day is in the future");
  else if (form.bridge.year_built && Number(e.inspected_on.slice(0, 4)) < form.bridge.year_built) refuse("inspected_on", `the bridge was built in ${form.bridge.year_built}`);
  if (!e.stretches?.length && !e.defects?.length && !e.readings?.length && !e.quick) refuse("", "give feet by state, a worst state, a defect or a gap reading");
  for (const f of e.stretches || []) {
    const at = `stretch-${f.stretch}`, stretch = form.stretches[f.stretch - 1];
    if ([...STATES.map(s => f[s] || 0), f.not_seen_ft || 0].some(v => !(v >= 0))) refuse(at, "feet are 0 or more");
    const left = leftFt(stretch, f);
    if (!fills(stretch, left)) refuse(at, left > 0 ? `${round(left)} ft are still missing of ${round(stretch.length_ft)} ft` : `${round(-left)} ft more than the length of ${round(stretch.length_ft)} ft`);
  }
  const end = form.joint.length_ft;
  for (const d of e.defects || []) {
    if (d.from_ft != null && d.to_ft != null && d.to_ft < d.from_ft) refuse(`defect-${d.defect}`, "from is the smaller");
    else if (d.to_ft != null && end && d.to_ft > end + Math.max(SLACK_FT, SLACK * end)) refuse(`defect-${d.defect}`, `the joint is ${round(end)} ft long`);
  }
  (e.readings || []).forEach((r, i) => {
    if (!(r.gap_in >= 0 && r.gap_in <= limits.MaxGapIn)) refuse(`reading-${i}`, `a gap is 0 to ${limits.MaxGapIn} in`);
    for (const t of [r.deck_temp_f, r.air_temp_f]) {
      if (t != null && !(t >= limits.MinTempF && t <= limits.MaxTempF)) refuse(`reading-${i}`, `temperatures are ${limits.MinTempF} to ${limits.MaxTempF} °F`);
    }
  });
  return wrong;
}

export function today() {
  const d = new Date();
  return `${d.getFullYear()}-${String(d.getMonth() + 1).padStart(2, "0")}-${String(d.getDate()).padStart(2, "0")}`;
}

function oddCondition(form, e) {
  const last = form.last;
  if (!last || !e.stretches?.length || days(last.inspected_on, e.inspected_on) <= 0) return [];
  const was = states(last.feet), is = states(e.stretches), wasWorst = worstOf(was), isWorst = worstOf(is);
  if (!wasWorst || !isWorst) return [];
  const odd = [];
  const worked = (form.work_days || []).some(d => days(last.inspected_on, d) > 0 && days(d, e.inspected_on) >= 0);
  if (better(was, is) && !worked) odd.push(`better than on ${last.inspected_on} with no work on record`);
  const years = days(last.inspected_on, e.inspected_on) / 365.25;
  if (isWorst - wasWorst >= 2 && years <= 1.25) odd.push(`worst state went from CS${wasWorst} to CS${isWorst} within ${years.toFixed(1)} years`);
  return odd;
}

function better(was, is) {
  const nWas = total(was), nIs = total(is);
  let w = 0, i = 0;
  for (let s = 3; s > 0; s--) {
    w += was[s] / nWas;
    i += is[s] / nIs;
    if ((w - i) * nIs > Math.max(SLACK_FT, SLACK * nIs)) return true;
  }
  return false;
}

function oddDefects(e) {
  const worst = worstOf(states(e.stretches));
  return worst ? (e.defects || []).filter(d => d.state > worst).map(d => `defect ${d.defect} is in CS${d.state}, but no feet are`) : [];
}

function oddReading(form, e, r) {
  if (form.joint.movement !== "expansion" || r.deck_temp_f == null) return [];
  const last = (form.readings || []).find(o => (o.position || "") === (r.position || "") && days(o.read_on, e.inspected_on) > 0);
  if (!last) return [];
  const dT = r.deck_temp_f - last.deck_temp_f, dGap = r.gap_in - last.gap_in;
  if (Math.abs(dT) < 15 || Math.abs(dGap) < 0.125 || (dT > 0) !== (dGap > 0)) return [];
  return [`the gap is ${Number(Math.abs(dGap).toPrecision(3))} in ${dT > 0 ? "wider though the deck was warmer" : "narrower though the deck was colder"} than on ${last.read_on}`];
}

// expected is what a tape should read, from the table that came with the form:
// the straight line between its steps.
export function expected(opening, reading) {
  const air = reading.deck_temp_f == null, t = air ? reading.air_temp_f : reading.deck_temp_f;
  const table = (air ? opening.air : opening.deck) || [];
  if (t == null || !table.length || t < table[0].temp_f || t > table.at(-1).temp_f) return null;
  const i = Math.max(1, table.findIndex(b => b.temp_f >= t)), a = table[i - 1], b = table[i];
  const share = (t - a.temp_f) / (b.temp_f - a.temp_f), shift = opening.offsets_in?.[reading.position] || 0;
  const between = k => a[k] + share * (b[k] - a[k]) + shift;
  return {temp_f: t, gap_in: between("gap_in"), low_in: Math.max(between("low_in"), 0), high_in: between("high_in")};
}

// verdict says how a reading is against its band, in the server's words.
export function verdict(opening, reading) {
  const band = expected(opening, reading);
  if (!band) return {gap_in: reading.gap_in, says: reading.deck_temp_f == null && reading.air_temp_f == null ? "" : "nothing to compare with"};
  const says = reading.gap_in > band.high_in ? "wider than expected" : reading.gap_in < band.low_in ? "narrower than expected" : "as expected";
  return {gap_in: reading.gap_in, says, expected: band};
}

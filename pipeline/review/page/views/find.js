// Find: words, place, years, tin, taxon, condition, priority; counts and pictures as one types.
import {alarm, counted, fill, findingName, get, guarded, h, level, picked, picker, picture, s, said, say, seal, shelf, state, words} from "../tools.js";

const asked = {order: "shelf", progress: "any", severity: 1};
const map = {lat: 0, lon: 0, width: 360};  // middle and width in degrees
let going = null;
let timer = 0;
let hits = [];
let parts = {};
let go = () => {};
let coasts = null;

function query(more = {}) {
  const q = {order: asked.order, ...more};
  for (const name of ["words", "place", "taxon", "finding", "level"]) if (asked[name]) q[name] = asked[name];
  if (asked.tin !== undefined) q.tin = asked.tin;
  if (asked.finding) q.severity = asked.severity;
  if (asked.progress !== "any") q.progress = asked.progress;
  if (asked.from) q.from = asked.from;
  if (asked.to) q.to = asked.to;
  if (asked.centre) Object.assign(q, {lat: asked.centre.lat, lon: asked.centre.lon, km: asked.km ?? 50});
  return q;
}

// The newest question alone is answered: an older one is called off.
export function look(wait = 0) {
  clearTimeout(timer);
  timer = setTimeout(async () => {
    going?.abort();
    going = new AbortController();
    const begun = performance.now();
    const answer = await guarded(() => get("/api/find", query({limit: 60, spot: Math.max(0.1, map.width / 120)}), going.signal));
    if (!answer) return;
    state.lastLookMs = performance.now() - begun;
    hits = answer.hits;
    showAnswer(answer);
  }, wait);
}

function showAnswer({hits: found, counts, of}) {
  const text = fill(counts.found === 1 ? words.find.found_one : words.find.found, {n: counted(counts.found), all: counted(of)});
  parts.count.replaceChildren(h("strong", {}, text), " · ", fill(words.find.of_them, {n: counted(counts.confirmed)}));
  say(text);
  parts.read.disabled = parts.care.disabled = parts.pick.disabled = counts.found === 0;
  parts.hits.replaceChildren(...(found.length ? found.map(card) : [h("li", {class: "empty"}, words.find.nothing)]));
  parts.more.hidden = hits.length >= counts.found;
  choices(parts.tins, counts.tins, "tin", (name) => name || words.find.no_tin);
  choices(parts.levels, counts.levels, "level", (name) => words.level[name] ?? name);
  choices(parts.findings, counts.findings, "finding", findingName);
  choices(parts.taxa, counts.taxa, "taxon", (name) => name);
  drawYears(counts.years, counts.undated);
  drawMap(counts.spots, counts.placeless);
}

function card(hit) {
  const place = [hit.date, hit.place].filter(Boolean).map((x) => said(x));
  return h("li", {}, h("button", {type: "button", class: "card", onclick: () => readFrom(hit.id)},
    h("span", {class: "thumb"}, h("img", {src: picture("crop", hit.id, 0, 320), alt: "", loading: "lazy", decoding: "async"})),
    h("span", {class: "line"}, seal(hit.settled), said(hit.text || "—", {class: "said cut"})),
    h("span", {class: "line facts"}, place.length ? place.flatMap((x, i) => (i ? [" · ", x] : [x])) : "–"),
    h("span", {class: "line shelf"}, shelf(hit), hit.exact ? null : h("em", {}, " ", words.find.near_miss), level(hit.level))), picker(hit.id));
}

function choices(place, counted_, name, label) {
  const chosen = asked[name];
  const open = document.activeElement?.closest("ul") === place ? document.activeElement.dataset.name : undefined;
  place.replaceChildren(...counted_.map(([value, n]) => h("li", {}, h("button", {type: "button", "data-name": value, "aria-pressed": String(chosen === value), onclick: () => {
    asked[name] = chosen === value ? undefined : value;
    look();
  }}, said(label(value)), h("span", {class: "n"}, counted(n))))));
  if (open !== undefined) [...place.querySelectorAll("button")].find((b) => b.dataset.name === open)?.focus();
}

// --- years ---

const kYears = {width: 280, height: 74};

function drawYears(years, undated) {
  const first = asked.first ??= years.length ? Math.floor((years[0][0] - 1) / 10) * 10 : 1850;
  const last = asked.last ??= years.length ? Math.ceil((years.at(-1)[0] + 1) / 10) * 10 : 1950;
  const x = (year) => ((year - first) / (last - first)) * kYears.width;
  const most = Math.max(1, ...years.map(([, n]) => n));
  const wide = Math.max(1, kYears.width / (last - first) - 0.5);
  const bars = years.filter(([year]) => year >= first && year < last).map(([year, n]) => {
    const tall = Math.max(1.5, (n / most) * 56);
    return s("rect", {x: x(year), y: 58 - tall, width: wide, height: tall}, s("title", {}, `${year}: ${n}`));
  });
  const ticks = [];
  const step = last - first > 80 ? 20 : 10;
  for (let year = Math.ceil(first / step) * step; year <= last; year += step) ticks.push(s("text", {x: Math.min(Math.max(x(year), 12), kYears.width - 12), y: 71}, String(year)));
  const span = asked.from || asked.to ? s("rect", {class: "span", x: x(asked.from || first), y: 0, width: Math.max(2, x(Number(asked.to || last - 1) + 1) - x(asked.from || first)), height: 60}) : null;
  parts.years.replaceChildren(s("line", {x1: 0, x2: kYears.width, y1: 58.5, y2: 58.5}), ...bars, ...(span ? [span] : []), ...ticks);
  parts.undated.textContent = undated ? fill(words.find.undated, {n: counted(undated)}) : "";
  const yearAt = (event) => {
    const box = parts.years.getBoundingClientRect();
    return Math.round(first + Math.min(1, Math.max(0, (event.clientX - box.left) / box.width)) * (last - first) - 0.5);
  };
  let from = null;
  parts.years.onpointerdown = (event) => {
    from = yearAt(event);
    parts.years.setPointerCapture(event.pointerId);
  };
  parts.years.onpointermove = (event) => {
    if (from === null) return;
    const to = yearAt(event);
    setYears(Math.min(from, to), Math.max(from, to));
    look(60);
  };
  parts.years.onpointerup = (event) => {
    if (from === null) return;
    const to = yearAt(event);
    setYears(Math.min(from, to), Math.max(from, to));
    from = null;
    look();
  };
}

function setYears(from, to) {
  asked.from = from;
  asked.to = to;
  parts.from.value = from ?? "";
  parts.to.value = to ?? "";
}

// --- map ---

const kMap = {width: 280, height: 150};

function drawMap(spots, placeless) {
  const scale = kMap.width / map.width;
  const x = (lon) => kMap.width / 2 + (lon - map.lon) * scale;
  const y = (lat) => kMap.height / 2 - (lat - map.lat) * scale;
  const land = (coasts ?? []).map((line) => {
    let d = "";
    for (let i = 0; i < line.length; i += 2) d += `${i && Math.abs(line[i] - line[i - 2]) < 1800 ? "L" : "M"}${x(line[i] / 10).toFixed(1)} ${y(line[i + 1] / 10).toFixed(1)}`;
    return s("path", {d});
  });
  const dots = spots.map(([lat, lon, n]) => s("circle", {cx: x(lon).toFixed(1), cy: y(lat).toFixed(1), r: Math.min(9, 1.6 + Math.sqrt(n) * 0.7).toFixed(1)}, s("title", {}, String(n))));
  let ring = null;
  if (asked.centre) {
    const points = [];
    const lat = asked.centre.lat * Math.PI / 180;
    const far = (asked.km ?? 50) / 6371.0088;
    for (let i = 0; i < 72; ++i) {
      const turn = i * Math.PI / 36;
      const lat2 = Math.asin(Math.sin(lat) * Math.cos(far) + Math.cos(lat) * Math.sin(far) * Math.cos(turn));
      const lon2 = asked.centre.lon + Math.atan2(Math.sin(turn) * Math.sin(far) * Math.cos(lat), Math.cos(far) - Math.sin(lat) * Math.sin(lat2)) * 180 / Math.PI;
      points.push(`${x(lon2).toFixed(1)},${y(lat2 * 180 / Math.PI).toFixed(1)}`);
    }
    ring = [s("polygon", {class: "ring", points: points.join(" ")}), s("path", {class: "centre", d: `M${x(asked.centre.lon) - 4} ${y(asked.centre.lat)}h8m-4 -4v8`})];
  }
  parts.map.replaceChildren(...land, ...dots, ...(ring ?? []));
  parts.placeless.textContent = placeless ? fill(words.find.nowhere, {n: counted(placeless)}) : "";
  parts.map.onclick = (event) => {
    const box = parts.map.getBoundingClientRect();
    const lon = map.lon + ((event.clientX - box.left) / box.width - 0.5) * map.width;
    const lat = map.lat - ((event.clientY - box.top) / box.height - 0.5) * (map.width * kMap.height / kMap.width);
    if (Math.abs(lat) <= 90 && Math.abs(lon) <= 180) centre({lat, lon});
  };
}

function zoom(times) {
  map.width = Math.min(360, Math.max(4, map.width / times));
  if (asked.centre && times > 1) Object.assign(map, {lat: asked.centre.lat, lon: asked.centre.lon});
  if (map.width === 360) Object.assign(map, {lat: 0, lon: 0});
  look();
}

function centre(at, name = "") {
  asked.centre = at;
  parts.near.value = at ? name || `${at.lat.toFixed(2)}, ${at.lon.toFixed(2)}` : "";
  parts.choose.replaceChildren();
  if (name) Object.assign(map, {lat: at.lat, lon: at.lon, width: Math.min(map.width, 60)});
  look();
}

async function nearNamed() {
  const text = parts.near.value.trim();
  if (!text) return centre(null);
  const point = text.match(/^(-?[\d.]+)\s*,\s*(-?[\d.]+)$/);
  if (point && Math.abs(point[1]) <= 90 && Math.abs(point[2]) <= 180) return centre({lat: Number(point[1]), lon: Number(point[2])});
  const {places} = await get("/api/places", {name: text});
  if (!places.length) return alarm(`“${text}”: ${words.unknown}.`);
  alarm("");
  centre({lat: places[0].lat, lon: places[0].lon}, text);
  if (places.length > 1)
    parts.choose.replaceChildren(h("span", {}, words.find.choose_place), h("ul", {}, places.slice(0, 6).map((p) => h("li", {}, h("button", {type: "button", onclick: () => centre({lat: p.lat, lon: p.lon}, p.name)}, `${p.name}, ${p.country} · ${p.lat.toFixed(1)}, ${p.lon.toFixed(1)}`)))));
}

// --- going on ---

async function readFrom(id, view = "read") {
  const {ids} = await get("/api/ids", query());
  state.queue = ids;
  state.queueName = words.read.queue_found;
  state.at = Math.max(0, id ? ids.indexOf(id) : 0);
  go(view);
}

async function pickThese() {
  picked.add((await get("/api/ids", query())).ids);
  parts.hits.querySelectorAll(".picker").forEach((one, i) => one.setAttribute("aria-pressed", String(picked.has(hits[i].id))));
}

async function more() {
  const answer = await get("/api/find", query({limit: 60, skip: hits.length}));
  hits = hits.concat(answer.hits);
  parts.hits.append(...answer.hits.map(card));
  parts.more.hidden = hits.length >= answer.counts.found;
}

function field(id, label, about, does) {
  return h("p", {class: "field"}, h("label", {for: id}, label), h("input", {id, type: "search", autocomplete: "off", spellcheck: "false", ...about, oninput: (event) => does(event.target.value)}));
}
function select(id, label, values, now, does) {
  return h("p", {class: "field row"}, h("label", {for: id}, label), h("select", {id, onchange: (event) => does(event.target.value)}, values.map(([value, name]) => h("option", {value, ...(value === now ? {selected: true} : {})}, name))));
}

export async function show(place, about, goTo) {
  go = goTo;
  const f = words.find;
  parts = {count: h("p", {class: "count"}), hits: h("ul", {class: "cards"}), tins: h("ul", {class: "facet"}), levels: h("ul", {class: "facet"}), findings: h("ul", {class: "facet"}), taxa: h("ul", {class: "facet long"}),
    years: s("svg", {viewBox: `0 0 ${kYears.width} ${kYears.height}`, class: "years", role: "img", "aria-label": f.years}), map: s("svg", {viewBox: `0 0 ${kMap.width} ${kMap.height}`, class: "map", role: "img", "aria-label": f.map}),
    undated: h("p", {class: "small"}), placeless: h("p", {class: "small"}), choose: h("div", {class: "choose"}),
    read: h("button", {type: "button", class: "main", onclick: () => guarded(() => readFrom())}, f.read_these), care: h("button", {type: "button", onclick: () => guarded(() => readFrom(null, "care"))}, f.care_these),
    pick: h("button", {type: "button", onclick: () => guarded(pickThese)}, f.pick_these),
    more: h("button", {type: "button", hidden: true, onclick: () => guarded(more)}, f.more),
    near: h("input", {id: "near", type: "search", autocomplete: "off", placeholder: f.near_hint, value: asked.centre ? `${asked.centre.lat.toFixed(2)}, ${asked.centre.lon.toFixed(2)}` : "", onchange: () => guarded(nearNamed)}),
    from: h("input", {id: "from", inputmode: "numeric", size: 4, maxlength: 4, value: asked.from ?? "", onchange: (e) => { asked.from = Number(e.target.value) || undefined; look(); }}),
    to: h("input", {id: "to", inputmode: "numeric", size: 4, maxlength: 4, value: asked.to ?? "", onchange: (e) => { asked.to = Number(e.target.value) || undefined; look(); }})};
  const km = h("input", {id: "km", inputmode: "decimal", size: 4, value: asked.km ?? 50, oninput: (e) => { asked.km = Math.min(20000, Math.max(0, Number(e.target.value) || 0)); if (asked.centre) look(120); }});
  const box = (title, ...inside) => h("fieldset", {}, h("legend", {}, title), inside);
  place.replaceChildren(
    h("search", {class: "filters", "aria-label": f.filters},
      field("words", f.words, {placeholder: f.words_hint, value: asked.words ?? ""}, (value) => { asked.words = value; look(90); }),
      field("place", f.place, {placeholder: f.place_hint, value: asked.place ?? ""}, (value) => { asked.place = value; look(90); }),
      h("p", {class: "field row near"}, h("label", {for: "km"}, f.near), km, h("label", {for: "near"}, f.near_of), parts.near), parts.choose,
      h("div", {class: "mapbox"}, parts.map, h("p", {class: "maptools"}, h("button", {type: "button", "aria-label": words.read.zoom_in, onclick: () => zoom(2)}, "+"), h("button", {type: "button", "aria-label": words.read.zoom_out, onclick: () => zoom(0.5)}, "−"), h("button", {type: "button", onclick: () => zoom(1e-3)}, f.map_whole), h("button", {type: "button", onclick: () => centre(null)}, f.map_clear))), parts.placeless,
      box(f.years, parts.years, h("p", {class: "row"}, h("label", {for: "from"}, f.from), parts.from, h("label", {for: "to"}, f.to), parts.to, h("span", {class: "small"}, f.years_hint)), parts.undated),
      box(f.level, parts.levels),
      box(f.finding, h("p", {class: "row"}, h("label", {for: "severity"}, f.severity), h("select", {id: "severity", onchange: (e) => { asked.severity = Number(e.target.value); look(); }}, [1, 2, 3, 4].map((n) => h("option", {value: String(n), ...(n === asked.severity ? {selected: true} : {})}, words.severity[n])))), parts.findings),
      box(f.tin, parts.tins), box(f.taxon, parts.taxa),
      h("button", {type: "button", onclick: () => { for (const name of Object.keys(asked)) delete asked[name]; Object.assign(asked, {order: "shelf", progress: "any", severity: 1}); Object.assign(map, {lat: 0, lon: 0, width: 360}); show(place, {}, go); }}, f.clear)),
    h("section", {class: "results", "aria-label": f.results},
      h("div", {class: "bar"}, parts.count, select("progress", f.progress, [["any", f.any], ["open", f.open], ["confirmed", f.confirmed]], asked.progress, (value) => { asked.progress = value; look(); }),
        select("order", f.order, ["shelf", "priority", "date", "doubt"].map((name) => [name, f[name]]), asked.order, (value) => { asked.order = value; look(); }), parts.read, parts.care, parts.pick),
      parts.hits, parts.more));
  look();
  if (!coasts) {
    coasts = (await (await fetch("/page/coasts.json")).json()).coasts;
    look();
  }
}

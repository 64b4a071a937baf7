// Tins: each sheet as it was photographed, what is in its tin, what is out and where.
import {counted, fill, get, guarded, h, level, picture, s, said, shelf, spot, state, words} from "../tools.js";

let place = null;
let go = () => {};

async function readThese(name, view, id) {
  state.queue = (await get("/api/ids", {tin: name, order: "shelf"})).ids;
  state.queueName = fill(words.read.queue_tin, {name: name || words.find.no_tin});
  state.at = Math.max(0, id ? state.queue.indexOf(id) : 0);
  await go(view);
}

function sheet(name, one) {
  const [width, height] = one.photo_px;
  const open = (id) => () => guarded(() => readThese(name, "read", id));
  const rows = one.envelopes.map((e) => h("tr", {}, h("td", {}, String(e.position)), h("td", {}, h("button", {type: "button", class: "link", onclick: open(e.id)}, said(e.number || e.id))), h("td", {}, said(e.text, {class: "said cut"})), h("td", {}, level(e.level)),
    h("td", {}, e.inside ? words.tins.inside : [words.movement[e.where.kind] ?? e.where.kind, e.where.where ? [": ", said(e.where.where)] : null].flat()), h("td", {}, e.confirmed ? "✓" : "")));
  return h("section", {class: "onesheet"}, h("h3", {}, fill(words.tins.sheet, {name: one.sheet || "–"}), " ", words.tins[one.side] ?? "", one.retake ? h("em", {}, ` ${words.tins.retake}: `, said(one.remarks.join("; "))) : null),
    one.envelopes.length ? s("svg", {viewBox: `0 0 ${width} ${height}`, class: "sheet", role: "img", "aria-label": one.photograph}, s("image", {href: picture("photograph", one.envelopes[0].id, one.view, 1600), width, height}),
      ...one.envelopes.flatMap((e) => {
        const xs = e.polygon.map(([x]) => x);
        const ys = e.polygon.map(([, y]) => y);
        return [s("polygon", {points: spot(e.polygon), class: e.inside ? "" : "out", onclick: open(e.id)}, s("title", {}, `${e.position} · ${e.text}`)), s("text", {x: (Math.min(...xs) + Math.max(...xs)) / 2, y: (Math.min(...ys) + Math.max(...ys)) / 2, "font-size": width / 45}, String(e.position))];
      })) : null,
    h("table", {}, h("thead", {}, h("tr", {}, [words.tins.no, words.read.envelope, words.tins.text, words.find.level, words.tins.where, words.term.confirmed].map((t) => h("th", {scope: "col"}, t)))), h("tbody", {}, rows)));
}

async function choose(name) {
  const {sheets} = await get("/api/tin", {name});
  const title = name || words.find.no_tin;
  for (const one of place.querySelectorAll(".tinlist button")) one.setAttribute("aria-pressed", String(one.dataset.name === name));
  place.querySelector(".sheets").replaceChildren(h("div", {class: "bar"}, h("h2", {}, fill(words.tins.sheets, {name: title})), h("button", {type: "button", class: "main", onclick: () => guarded(() => readThese(name, "read"))}, words.tins.read), h("button", {type: "button", onclick: () => guarded(() => readThese(name, "care"))}, words.tins.care)), ...sheets.map((one) => sheet(name, one)));
}

export async function show(where, about, goTo) {
  place = where;
  go = goTo;
  const {tins, confirmed, isolate} = await get("/api/tins");
  const of = (list, name) => (list.find(([n]) => n === name) ?? [name, 0])[1];
  place.replaceChildren(h("div", {class: "pair"},
    h("nav", {class: "left tinlist", "aria-label": words.tins.list}, h("ul", {class: "facet"}, tins.map(([name, n]) => h("li", {}, h("button", {type: "button", "data-name": name, "aria-pressed": "false", onclick: () => guarded(() => choose(name))},
      said(name || words.find.no_tin), h("span", {class: "n"}, fill(words.tins.envelopes, {n: counted(n)}), " · ", fill(words.tins.confirmed, {n: counted(of(confirmed, name))}), of(isolate, name) ? [" · ", h("em", {}, fill(words.tins.isolate, {n: of(isolate, name)}))] : null)))))),
    h("div", {class: "sheets"}, h("p", {class: "empty"}, words.tins.choose))));
  if (tins.length) await choose(tins[0][0]);
}

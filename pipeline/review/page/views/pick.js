// Pick: the envelopes chosen to be taken out, tin by tin, printed as a list and recorded as picked.
import {counted, fill, get, guarded, h, level, pdf, picked, picture, said, say, shelf, words, write} from "../tools.js";

let place = null;
let entries = [];

const whereIs = (e) => (e.inside ? words.tins.inside : [words.movement[e.where.kind] ?? e.where.kind, e.where.where ? [": ", said(e.where.where)] : null, e.where.who ? [", ", said(e.where.who)] : null].flat());

function row(e) {
  return h("tr", {}, h("td", {}, h("img", {src: picture("crop", e.id, 0, 320), alt: "", loading: "lazy"})), h("td", {}, said(e.number || e.id)), h("td", {}, shelf(e)), h("td", {}, said(e.text, {class: "said cut"})), h("td", {}, level(e.level)), h("td", {class: e.inside ? "" : "open"}, whereIs(e)),
    h("td", {}, h("button", {type: "button", "aria-label": fill(words.pick.drop_one, {name: e.number || e.id}), onclick: () => { picked.toggle(e.id); return load(); }}, words.pick.drop)));
}

async function record() {
  const ids = entries.filter((e) => e.inside).map((e) => e.id);
  const done = await write("/api/pick", {ids});
  await load();
  if (done) say(fill(words.pick.recorded, {n: counted(done.picked)}));
}

async function load() {
  entries = picked.ids().length ? (await get("/api/picks", {ids: picked.ids().join(".")})).entries : [];
  if (!entries.length) return place.replaceChildren(h("p", {class: "empty"}, words.pick.empty));
  const inside = entries.filter((e) => e.inside).length;
  const tins = [...new Set(entries.map((e) => e.tin))];
  const columns = ["", words.read.envelope, words.tins.where, words.tins.text, words.find.level, words.tins.state, ""];
  return place.replaceChildren(
    h("div", {class: "bar"}, h("h2", {}, fill(words.pick.title, {n: counted(entries.length), tins: counted(tins.length)})),
      h("a", {class: "button main", href: pdf(picked.ids()), target: "_blank", rel: "noopener"}, words.pick.print),
      h("button", {type: "button", disabled: inside === 0, onclick: () => guarded(record)}, fill(words.pick.record, {n: counted(inside)})),
      h("button", {type: "button", onclick: () => { picked.clear(); return guarded(load); }}, words.pick.clear)),
    h("p", {class: "small"}, words.pick.lead),
    ...tins.map((tin) => h("section", {}, h("h3", {}, tin === "" ? words.find.no_tin : [words.read.tin, " ", said(tin)]),
      h("table", {class: "picks"}, h("thead", {}, h("tr", {}, columns.map((t) => (t ? h("th", {scope: "col"}, t) : h("td"))))), h("tbody", {}, entries.filter((e) => e.tin === tin).map(row))))),
    h("p", {class: "caution"}, words.care.caution));
}

export async function show(where) {
  place = where;
  await load();
}

// Care: what was seen on the envelope, how urgent it is and why; accepted or refuted finding by finding.
import {fill, findingName, get, goneOn, guarded, h, level, picker, picture, queued, remember, s, said, say, shelf, spot, state, undo, words, write} from "../tools.js";

let envelope = null;
let chosen = 0;
let place = null;

const view = () => envelope.views[envelope.view];

// What a person last said of a kind: nothing, 0 = not there, 1 to 4.
function judged(kind) {
  const said_ = envelope.history.filter((d) => d.term === `finding:${kind}`).at(-1);
  return !said_ || said_.raw === "" ? null : Number(said_.raw);
}

// One row a kind: the machine's worst of it, and what a person said.
function kinds() {
  const all = new Map();
  for (const one of view().machine_findings) {
    const worst = all.get(one.kind);
    if (!worst || one.severity > worst.severity) all.set(one.kind, {...one, polygons: [...(worst?.polygons ?? []), one.polygon]});
    else worst.polygons.push(one.polygon);
  }
  for (const one of view().findings) if (!all.has(one.kind)) all.set(one.kind, {...one, polygons: []});
  return [...all.values()];
}

async function load(id) {
  envelope = await get("/api/envelope", {id});
  chosen = 0;
  draw();
}

async function turn(by) {
  if (goneOn(by)) await load(state.queue[state.at]);
}

// `change`: {value} or {take_back: true}; `after`: what more is said of it.
async function decide(term, name, change, shown, after) {
  const done = await write("/api/decide", {changes: [{id: envelope.id, term, seen: envelope.seen, ...change}]}, `${name}: ${shown}`);
  if (!done) return;
  if (!done.kept_theirs) {
    remember(name, done);
    say([fill(words.read.saved, {term: name}), after].filter(Boolean).join(" "));
  }
  const at = chosen;
  await load(envelope.id);
  chosen = at;
  draw();
}

const judge = (kind, severity) => decide(`finding:${kind}`, findingName(kind), {value: severity}, words.severity[severity], words.care.later);

// The level as the rules or a person have it, to be settled by hand.
function priority() {
  const now = view().triage.level;
  const by_person = (envelope.history.filter((d) => d.term === "priority").at(-1)?.raw ?? "") !== "";
  const settle = (change, shown) => guarded(() => decide("priority", words.term.priority, change, shown));
  return h("p", {class: "tools levels", role: "group", "aria-label": words.term.priority},
    Object.keys(words.level).map((name) => h("button", {type: "button", "aria-pressed": String(name === now), onclick: () => settle({value: name}, words.level[name])}, words.level[name])),
    by_person ? h("button", {type: "button", onclick: () => settle({take_back: true}, words.read.take_back)}, words.read.take_back) : null);
}

function row(one, i) {
  const by_person = judged(one.kind);
  const mark = by_person === null ? `${words.severity[one.severity]} · ${fill(words.read.sure, {n: Math.round(100 * one.confidence)})}` : by_person === 0 ? words.care.refuted : `${words.severity[by_person]} · ${words.care.accepted}`;
  return h("li", {class: `${i === chosen ? "chosen" : ""} ${by_person === 0 ? "refuted" : ""}`, onpointerenter: () => choose(i)},
    h("strong", {}, findingName(one.kind)), h("span", {class: "small"}, ` ${mark}`), one.words ? h("p", {class: "small"}, said(one.words)) : null,
    h("p", {class: "tools"}, h("button", {type: "button", onclick: () => guarded(() => judge(one.kind, one.severity || 1))}, words.care.accept), h("button", {type: "button", onclick: () => guarded(() => judge(one.kind, 0))}, words.care.refute),
      [1, 2, 3, 4].map((n) => h("button", {type: "button", "aria-pressed": String((by_person ?? one.severity) === n), onclick: () => guarded(() => judge(one.kind, n))}, words.severity[n]))));
}

function choose(i) {
  chosen = i;
  for (const one of place.querySelectorAll("[data-finding]")) one.classList.toggle("lit", Number(one.dataset.finding) === i);
  place.querySelectorAll(".findings > li").forEach((li, k) => li.classList.toggle("chosen", k === i));
}

function draw() {
  const v = view();
  const [width, height] = v.crop_px;
  const all = kinds();
  chosen = Math.min(chosen, Math.max(0, all.length - 1));
  const button = (label, does) => h("button", {type: "button", onclick: () => guarded(does)}, label);
  place.replaceChildren(
    h("div", {class: "bar"}, h("h2", {}, envelope.number || envelope.id), h("span", {class: "small"}, shelf(v)), level(v.triage.level), h("span", {class: "small"}, fill(words.read.place_in, {n: state.at + 1, all: state.queue.length}))),
    h("div", {class: "pair"},
      h("div", {class: "left"}, h("div", {class: "glass", role: "img", "aria-label": words.read.crop}, s("svg", {viewBox: `0 0 ${width} ${height}`}, s("image", {href: picture("crop", envelope.id, envelope.view, 1600), width, height}),
        ...all.flatMap((one, i) => one.polygons.map((polygon) => s("polygon", {points: spot(polygon), "data-finding": i, class: `finding ${judged(one.kind) === 0 ? "refuted" : ""} ${i === chosen ? "lit" : ""}`})))))),
      h("div", {class: "right"}, h("section", {}, h("h3", {}, words.term.priority), priority(), v.triage.reasons.length ? h("h3", {}, words.care.why) : null, h("ul", {}, v.triage.reasons.map((r) => h("li", {}, said(r)))), v.condition.fragility.length ? h("p", {}, `${words.care.fragility}: `, v.condition.fragility.map((f) => said(f)).flatMap((x, i) => (i ? ["; ", x] : [x]))) : null),
        h("section", {}, h("h3", {}, words.care.findings), !v.condition.judged ? h("p", {}, words.care.unjudged, ": ", said(v.condition.why_not)) : all.length ? h("ol", {class: "findings"}, all.map(row)) : h("p", {}, words.care.none)),
        h("p", {class: "caution"}, words.care.caution))),
    h("div", {class: "bar foot"}, button(words.read.previous, () => turn(-1)), button(words.read.next, () => turn(1)), button(words.read.undo, back), picker(envelope.id)));
}

async function back() {
  const id = await undo();
  if (id) await load(id);
}

const on_chosen = (severity) => () => {
  const one = kinds()[chosen];
  return one ? judge(one.kind, severity ?? (one.severity || 1)) : undefined;
};
export const keys = {p: () => place.querySelector(".levels button").focus(), j: () => turn(1), k: () => turn(-1), u: back, l: () => place.querySelector(".picker").click(), a: on_chosen(undefined), r: on_chosen(0), "Alt+1": on_chosen(1), "Alt+2": on_chosen(2), "Alt+3": on_chosen(3), "Alt+4": on_chosen(4),
  ArrowDown: () => choose(Math.min(chosen + 1, kinds().length - 1)), ArrowUp: () => choose(Math.max(chosen - 1, 0))};

export async function show(where) {
  place = where;
  if (await queued(place, {order: "priority"}, words.care.list)) await load(state.queue[state.at]);
}

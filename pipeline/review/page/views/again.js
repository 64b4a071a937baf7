// Again: envelopes that seem to have been photographed before, both pictures side by side; a person says by the keyboard whether they
// are one, and takes it back.
import {alarm, counted, fill, get, guarded, h, picture, s, said, say, shelf, state, undo, visible, when, who, words, write} from "../tools.js";

let place = null;
let pairs = [];      // as the server listed them when the view was opened, with what was settled since
let at = 0;
let pair = null;     // both sides of pairs[at]
let parts = {};
let asking = new AbortController();

const same = (one, other) => one.newer === other.newer && one.earlier === other.earlier;
const open = (one) => one.verdict === "";

// The next that waits for an answer, begun again from the first; -1 = none does.
function openAfter(i) {
  const later = pairs.findIndex((one, k) => k > i && open(one));
  return later >= 0 ? later : pairs.findIndex((one, k) => k < i && open(one));
}

// --- the list ---

const whereOf = (one) => (one.newer_at ? [shelf(one.newer_at), h("br"), shelf(one.earlier_at)] : [one.newer, h("br"), one.earlier]);

function row(one, i) {
  return h("button", {type: "button", onclick: () => guarded(() => load(i))}, h("span", {class: "n"}, one.confidence === null ? "" : fill(words.again.score, {n: percent(one.confidence)})), h("span", {class: "small"}, whereOf(one)),
    open(one) ? null : h("span", {class: `verdict ${one.verdict}`}, words.again.verdict[one.verdict], " — ", said(one.who)));
}

// No likelihood is rounded up to certainty.
const percent = (confidence) => Math.min(99, Math.round(100 * confidence));

// One line of the list alone: hundreds stay as they are.
function renew(i) {
  const li = parts.list.children[i];
  li.replaceChildren(row(pairs[i], i));
  li.firstChild.setAttribute("aria-current", String(i === at));
}

function count() {
  parts.count.textContent = fill(words.again.progress, {n: counted(pairs.filter(open).length), all: counted(pairs.length)});
}

// --- the pair ---

// The text in runs: what belongs to the longest common subsequence of both, and what stands here alone.
function differing(text, other) {
  const [a, b] = [[...text], [...other]];
  const length = Array.from({length: a.length + 1}, () => new Uint16Array(b.length + 1));
  for (let i = a.length - 1; i >= 0; --i)
    for (let j = b.length - 1; j >= 0; --j) length[i][j] = a[i] === b[j] ? length[i + 1][j + 1] + 1 : Math.max(length[i + 1][j], length[i][j + 1]);
  const runs = [];
  const add = (c, alone) => (runs.at(-1)?.alone === alone ? (runs.at(-1).text += c) : runs.push({text: c, alone}));
  for (let i = 0, j = 0; i < a.length;) {
    if (j < b.length && a[i] === b[j] && length[i][j] === length[i + 1][j + 1] + 1) {
      add(a[i++], false);
      ++j;
    } else if (j < b.length && length[i][j + 1] >= length[i + 1][j]) {
      ++j;
    } else {
      add(a[i++], true);
    }
  }
  return runs;
}
const kLongestCompared = 1500;   // characters; an envelope says some hundred

function textOf(one, other) {
  if (!one.text) return h("p", {class: "small"}, words.read.no_lines);
  if (Math.max(one.text.length, other.text.length) > kLongestCompared) return h("p", {class: "writing"}, said(one.text));
  return h("p", {class: "writing"}, h("bdi", {class: "said"}, differing(one.text, other.text).map((run) => (run.alone ? h("mark", {}, visible(run.text)) : visible(run.text)))));
}

function side(name, one, other) {
  if (!one) return h("section", {}, h("h3", {}, words.again[name]), h("p", {class: "empty"}, words.again.gone));
  const [width, height] = one.crop_px;
  return h("section", {}, h("h3", {}, words.again[name], " · ", shelf(one)),
    h("div", {class: "glass", role: "img", "aria-label": fill(words.again.crop, {which: words.again[name]})}, s("svg", {viewBox: `0 0 ${width} ${height}`}, s("image", {href: picture("crop", one.id, one.view, 1000), width, height}))),
    textOf(one, other ?? one),
    h("p", {class: "small"}, [one.number || one.id, one.size_mm ? fill(words.again.size, {wide: one.size_mm[0].toFixed(0), high: one.size_mm[1].toFixed(0)}) : "", one.taken ? when(one.taken) : ""].filter(Boolean).join(" · "), " · ", said(one.photograph)));
}

function draw() {
  const one = pairs[at];
  const button = (label, key, does, about = {}) => h("button", {type: "button", onclick: () => guarded(does), ...about}, label, h("kbd", {"aria-hidden": "true"}, key));
  const pressed = (verdict) => ({"aria-pressed": String(one.verdict === verdict)});
  const past = pair.history.map((d) => h("li", {}, words.again.verdict[d.verdict], " ", h("span", {class: "small"}, fill(words.again.of, d), " — ", said(d.who), ", ", when(d.when), d.note ? [": ", said(d.note)] : null)));
  parts.pair.replaceChildren(
    h("div", {class: "twins"}, side("newer", pair.newer, pair.earlier), side("earlier", pair.earlier, pair.newer)),
    h("p", {class: "why"}, one.confidence === null ? null : h("strong", {}, fill(words.again.likely, {n: percent(one.confidence)})), one.reasons.length ? [": ", said(one.reasons.join(", "))] : null),
    h("ul", {class: "past"}, past),
    h("div", {class: "bar foot"}, button(words.again.same, "s", () => settle("same"), {class: "main", ...pressed("same")}), button(words.again.other, "o", () => settle("other"), pressed("other")), button(words.again.take_back, "t", () => settle("taken back"), {disabled: open(one)}),
      button(words.read.previous, "k", () => turn(-1)), button(words.read.next, "j", () => turn(1)), button(words.read.undo, "u", back)));
}

async function load(i) {
  const before = at;
  at = i;
  pair = null;   // what is not yet shown takes no answer
  const {newer, earlier} = pairs[i];
  const got = await get("/api/pair", {newer, earlier}, asking.signal);
  if (at !== i) return;   // she went on meanwhile
  pair = got;
  Object.assign(pairs[i], {verdict: got.verdict, who: got.who, when: got.when});
  if (before !== i && before < pairs.length) renew(before);
  renew(i);
  parts.list.children[i].scrollIntoView({block: "nearest"});
  count();
  draw();
  ahead(openAfter(i));
}

// The pictures of what comes next, so that they are there when she is.
async function ahead(i) {
  if (i < 0) return;
  try {
    const {newer, earlier} = await get("/api/pair", {newer: pairs[i].newer, earlier: pairs[i].earlier}, asking.signal);
    for (const one of [newer, earlier]) if (one) new Image().src = picture("crop", one.id, one.view, 1000);
  } catch { /* it is asked for again when it is shown, and said then */ }
}

async function turn(by) {
  if (at + by < 0 || at + by >= pairs.length) say(words.read.end);
  else await load(at + by);
}

// --- what she decides ---

async function settle(verdict) {
  const one = pairs[at];
  if (verdict === "taken back" ? open(one) : one.verdict === verdict) {
    say(verdict === "taken back" ? words.again.nothing_settled : words.again.already);
    return;
  }
  const i = at;
  const looked = pair;
  pair = null;   // no second answer before the first is kept
  const done = await send(one, verdict, looked.seen);
  if (!done) {
    pair = looked;
    return;
  }
  if (!done.kept_theirs) {
    state.undo.push({label: words.again.verdict[verdict], pair: one, back: () => send(one, done.before, done.seen)});
    say(fill(words.again.settled, {verdict: words.again.verdict[verdict]}));
  }
  renew(i);
  const next = verdict === "taken back" || done.kept_theirs ? -1 : openAfter(i);
  await load(next < 0 ? i : next);
}

// Under the names by which it was kept: somebody may have joined one of them to another meanwhile.
async function send(one, verdict, seen) {
  const done = await write("/api/settle", {id: one.newer, earlier: one.earlier, verdict, seen}, words.again.verdict[verdict]);
  if (done && !done.kept_theirs) Object.assign(one, {newer: done.newer, earlier: done.earlier, verdict: verdict === "taken back" ? "" : verdict, who: who()});
  return done;
}

async function back() {
  const last = state.undo.at(-1);
  await undo();
  const i = last?.pair ? pairs.findIndex((one) => same(one, last.pair)) : -1;
  if (pairs.length) await load(i < 0 ? at : i);
}

export const decides = ["s", "o", "t"];
export const keys = {s: () => answer("same"), o: () => answer("other"), t: () => answer("taken back"), j: () => pairs.length && turn(1), k: () => pairs.length && turn(-1), u: back};
const answer = (verdict) => (pair ? settle(verdict) : undefined);

export function leave() {
  asking.abort();
}

async function list(anew) {
  asking.abort();
  asking = new AbortController();
  const before = pairs[at];
  pair = null;
  place.replaceChildren(h("p", {class: "empty", role: "status"}, words.again.comparing));
  ({pairs} = await get("/api/again", anew ? {anew: 1} : {}, asking.signal));
  alarm("");
  const renewing = h("button", {type: "button", onclick: () => guarded(() => list(true))}, words.again.anew);
  parts = {pair: h("div", {class: "left"}), list: h("ol", {}), count: h("span", {class: "small", role: "status"})};
  place.replaceChildren(h("div", {class: "bar"}, h("h2", {}, words.again.title), parts.count, h("span", {class: "small"}, words.again.lead), renewing),
    pairs.length ? h("div", {class: "pair"}, parts.pair, h("nav", {class: "right", "aria-label": words.again.list}, parts.list)) : h("p", {class: "empty"}, words.again.none));
  parts.list.append(...pairs.map((one, i) => h("li", {}, row(one, i))));
  count();
  const known = before ? pairs.findIndex((one) => same(one, before)) : -1;
  at = known >= 0 ? known : Math.max(0, pairs.findIndex(open));
  if (pairs.length) await load(at);
}

export async function show(where) {
  place = where;
  await list(false);
}

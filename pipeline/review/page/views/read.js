// Read: the envelope upright and large, what it says, what that means; corrected and confirmed by the keyboard alone.
import {alarm, fill, get, goneOn, guarded, h, level, picker, picture, question, queued, remember, s, said, say, seal, shelf, spot, state, termName, undo, visible, when, who, words, write} from "../tools.js";

let envelope = null;
let side = 0;        // which of its views
let lit = -1;        // line under the pointer or the focus
let zoom = 1;
let place = null;

const view = () => envelope.views[side];

async function load(id, at) {
  envelope = await get("/api/envelope", {id});
  side = at ?? envelope.view;
  lit = -1;
  draw();
}

async function turn(by) {
  if (!goneOn(by)) return;
  zoom = 1;
  await load(state.queue[state.at]);
}

// --- what is seen ---

function cutOut() {
  const {crop_px: [width, height], lines} = view();
  const marks = lines.map((line, i) => s("polygon", {points: spot(line.polygon), class: `line ${line.kind}`, "data-line": i, onpointerenter: () => light(i), onpointerleave: () => light(-1)}));
  const svg = s("svg", {viewBox: `0 0 ${width} ${height}`}, s("image", {href: picture("crop", envelope.id, side, zoom > 1 ? 3200 : 1600), width, height}), ...marks);
  svg.style.width = svg.style.height = `${100 * zoom}%`;
  return h("div", {class: "glass", tabindex: "0", role: "img", "aria-label": words.read.crop}, svg);
}

function light(i) {
  lit = i;
  for (const one of place.querySelectorAll("[data-line]")) one.classList.toggle("lit", Number(one.dataset.line) === i);
}

// A line with the characters that the reader doubts set off.
function lineText(line) {
  const inside = [];
  let at = 0;
  for (const [from, to] of line.doubtful) {
    inside.push(visible(line.text.slice(at, from)), h("mark", {}, visible(line.text.slice(from, to))));
    at = to;
  }
  inside.push(visible(line.text.slice(at)));
  return h("bdi", {class: "said"}, inside);
}

function lines() {
  const one = (line, i) => h("li", {"data-line": i, class: line.kind, tabindex: "0", onpointerenter: () => light(i), onpointerleave: () => light(-1), onfocus: () => light(i), onblur: () => light(-1)},
    lineText(line), h("span", {class: "small"}, ` ${words.kind[line.kind]} · ${fill(words.read.sure, {n: Math.round(100 * line.confidence)})}`));
  const all = [];
  const newsprint = [];   // behind the writing: there to be looked at, out of the way
  view().lines.forEach((line, i) => (line.kind !== "newsprint" ? all : line.text ? newsprint : []).push(one(line, i)));
  return h("section", {"aria-labelledby": "lines-title"}, h("h3", {id: "lines-title"}, words.read.lines),
    all.length ? h("ol", {class: "lines"}, all) : h("p", {class: "small"}, words.read.no_lines),
    newsprint.length ? h("details", {}, h("summary", {}, `${words.kind.newsprint}: ${newsprint.length}`), h("ol", {class: "lines"}, newsprint)) : null,
    view().text !== view().read ? h("p", {class: "settledtext"}, said(view().text)) : null,
    h("p", {}, h("button", {type: "button", onclick: () => guarded(() => edit("text"))}, fill(words.read.edit, {term: words.term.text}))));
}

function fact(term) {
  const claim = view().facts[term];
  const at = claim?.evidence?.[0]?.line ?? -1;
  const shown = !claim ? h("span", {class: "small"}, words.none) : claim.value === null ? h("span", {class: "open"}, claim.settled ? words.read.none_there : [words.read.open, claim.verbatim ? [": ", said(claim.verbatim)] : null].flat()) : said(claim.shown);
  return h("li", {onpointerenter: () => light(at), onpointerleave: () => light(-1)},
    h("span", {class: "term"}, termName(term)),
    h("span", {class: "value"}, shown, claim && claim.value !== null && claim.verbatim && claim.verbatim !== claim.shown ? h("span", {class: "small"}, " ", said(claim.verbatim)) : null,
      claim && !claim.settled && claim.value !== null ? h("span", {class: "small"}, ` ${fill(words.read.sure, {n: Math.round(100 * claim.confidence)})}`) : null,
      claim?.alternatives?.length ? h("span", {class: "small"}, ` ${words.read.alternatives} `, claim.alternatives.slice(0, 2).flatMap((a, i) => (i ? [", ", said(a.shown)] : [said(a.shown)]))) : null,
      claim?.reasons?.length ? h("details", {}, h("summary", {}, words.care.why), h("ul", {}, claim.reasons.map((r) => h("li", {}, said(r))))) : null),
    h("span", {class: "does"}, h("button", {type: "button", "aria-label": fill(words.read.edit, {term: termName(term)}), onclick: () => guarded(() => edit(term))}, "✎"),
      claim?.settled ? h("button", {type: "button", onclick: () => guarded(() => takeBack(term))}, words.read.take_back) : null));
}

function past() {
  const rows = [...envelope.history].reverse().map((d) => h("li", {}, termName(d.term), ": ", d.raw === "" ? words.read.taken_back : d.raw === "null" ? words.read.none_there : ["confirmed", "checked"].includes(d.term) ? "✓" : d.term.startsWith("finding:") ? words.severity[Number(d.raw)] ?? d.raw : said(d.shown), h("span", {class: "small"}, " — ", said(d.who), ", ", when(d.when))));
  return h("section", {}, h("h3", {}, words.read.history), rows.length ? h("ol", {class: "past"}, rows) : h("p", {class: "small"}, words.read.no_history));
}

function draw() {
  const v = view();
  const settled = [...(envelope.confirmed ? ["confirmed"] : []), ...(envelope.checked ? ["checked"] : []), ...(envelope.history.length ? ["any"] : [])];
  const button = (label, does, about = {}) => h("button", {type: "button", onclick: () => guarded(does), ...about}, label);
  place.replaceChildren(
    h("div", {class: "bar"}, h("h2", {}, seal(settled), " ", envelope.number || envelope.id), h("span", {class: "small"}, shelf(v)), level(v.triage.level),
      h("span", {class: "small"}, fill(words.read.place_in, {n: state.at + 1, all: state.queue.length}), " · ", state.queueName),
      h("span", {class: "small"}, fill(words.read.progress, {n: state.confirmed})),
      envelope.confirmed ? h("span", {class: "small"}, fill(words.read.confirmed_by, {who: envelope.confirmed.who}), envelope.checked ? `, ${fill(words.read.checked_by, {who: envelope.checked.who})}` : "") : null),
    h("div", {class: "pair"},
      h("div", {class: "left"}, cutOut(),
        h("p", {class: "tools"}, button("+", () => larger(1.5), {"aria-label": words.read.zoom_in}), button("−", () => larger(1 / 1.5), {"aria-label": words.read.zoom_out}), button(words.read.whole, () => larger(0)),
          button(words.read.photograph, sheet), envelope.views.length > 1 ? button(words.read.other_side, otherSide) : null)),
      h("div", {class: "right"}, lines(), h("section", {}, h("h3", {}, words.read.facts), h("ul", {class: "facts"}, state.terms.map(fact))), past())),
    h("div", {class: "bar foot"}, button(words.read.confirm, confirm, {class: "main", id: "confirm"}), button(words.read.previous, () => turn(-1)), button(words.read.next, () => turn(1)), button(words.read.alike, spread), button(words.read.check, check), button(words.read.undo, back), picker(envelope.id)));
}

const larger = (times) => {
  zoom = times === 0 ? 1 : Math.min(6, Math.max(1, zoom * times));
  draw();
};
const otherSide = () => {
  side = (side + 1) % envelope.views.length;
  draw();
};

async function sheet() {
  const {outlines, photo_px: [width, height]} = await get("/api/sheet", {id: envelope.id, view: side});
  await question({title: words.read.photograph, cancel: words.close, wide: true},
    s("svg", {viewBox: `0 0 ${width} ${height}`, class: "sheet"}, s("image", {href: picture("photograph", envelope.id, side, 2400), width, height}),
      ...outlines.map((one) => s("polygon", {points: spot(one.polygon), class: one.id === envelope.id ? "this" : ""}))));
}

// --- what she decides ---

async function settled(term, value, shown) {
  const done = await write("/api/decide", {changes: [{id: envelope.id, term, seen: envelope.seen, value}]}, shown);
  if (!done) return;
  if (!done.kept_theirs) {
    remember(termName(term), done);
    state.last = {id: envelope.id, view: side, term, value, shown};
    say(fill(words.read.saved, {term: termName(term)}));
  }
  await load(envelope.id, side);
}

async function takeBack(term) {
  const done = await write("/api/decide", {changes: [{id: envelope.id, term, seen: envelope.seen, take_back: true}]}, words.read.taken_back);
  if (done) remember(termName(term), done);
  await load(envelope.id, side);
}

async function edit(term) {
  const claim = term === "text" ? null : view().facts[term];
  const now = term === "text" ? view().text : claim?.verbatim || claim?.shown || "";
  const input = term === "text" ? h("textarea", {id: "typed", rows: 6, spellcheck: "false"}) : h("input", {id: "typed", type: "text", autocomplete: "off", spellcheck: "false"});
  input.value = now;
  const will = h("p", {class: "will", "aria-live": "polite"});
  const choices = h("ul", {class: "choices"});
  let answer = null;   // {value, shown}: what would be written
  let offered = claim?.alternatives ?? [];
  let asking = 0;
  const pick = (one) => {
    answer = one;
    will.replaceChildren(words.read.understood, " ", one.value === null ? words.read.none_there : said(one.shown));
  };
  const offer = () => choices.replaceChildren(...offered.slice(0, 5).map((one) => h("li", {}, h("button", {type: "button", onclick: () => pick(one)}, said(one.shown)))));
  const understand = async () => {
    if (term === "text") return pick({value: input.value, shown: input.value});
    const mine = ++asking;
    const got = await get("/api/try", {id: envelope.id, view: side, term, typed: input.value});
    if (mine !== asking) return undefined;
    if (got.value === null) {
      answer = null;
      will.replaceChildren(said(got.fault ?? words.unknown));
      return undefined;
    }
    offered = [...(got.others ?? []), ...(claim?.alternatives ?? [])];
    offer();
    return pick(got);
  };
  let timer = 0;
  input.addEventListener("input", () => {
    answer = null;
    clearTimeout(timer);
    timer = setTimeout(() => guarded(understand), term === "text" ? 0 : 120);
  });
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && term === "text" && (event.ctrlKey || event.metaKey)) input.form.requestSubmit();
    if (event.altKey && event.key === "n") {
      event.preventDefault();
      pick({value: null, shown: ""});
    }
    if ((event.key === "ArrowDown" || event.key === "ArrowUp") && offered.length && term !== "text") {
      event.preventDefault();
      const at = offered.indexOf(answer);
      pick(offered[(at + (event.key === "ArrowDown" ? 1 : offered.length - 1) + (at < 0 && event.key === "ArrowUp" ? 1 : 0)) % offered.length]);
    }
  });
  offer();
  const asked = question({title: fill(words.read.edit, {term: termName(term)}), ok: words.ok},
    h("label", {for: "typed"}, words.read.typed), input, will, offered.length ? h("p", {class: "small"}, words.read.choices) : null, choices, term === "text" ? h("p", {class: "small"}, words.read.text_hint) : null);
  input.focus();
  input.select();
  if (!(await asked)) return;
  clearTimeout(timer);
  if (!answer) await understand();   // Enter came before the answer to what was typed last
  if (!answer) {
    alarm(will.textContent || words.unknown);
    return;
  }
  await settled(term, answer.value, answer.shown);
}

async function confirm() {
  // Confirmed as it stands, by her: once is enough.
  if (envelope.confirmed?.who === who() && envelope.history.at(-1)?.term === "confirmed") {
    await turn(1);
    return;
  }
  const done = await write("/api/confirm", {id: envelope.id, seen: envelope.seen}, words.term.confirmed);
  if (!done) return;
  if (done.kept_theirs) {
    await load(envelope.id, side);
    return;
  }
  remember(words.term.confirmed, done);
  ++state.confirmed;
  say(words.read.confirmed);
  if (state.at + 1 < state.queue.length) await turn(1);
  else await load(envelope.id, side);
}

async function check() {
  const done = await write("/api/check", {id: envelope.id, seen: envelope.seen}, words.term.checked);
  if (done) remember(words.term.checked, done);
  await load(envelope.id, side);
}

async function back() {
  const id = await undo();
  if (!id) return;
  const at = state.queue.indexOf(id);
  if (at >= 0) state.at = at;
  await load(id);
}

// The last correction, for all that say the same in this tin.
async function spread() {
  const last = state.last;
  if (!last) {
    say(words.read.alike_no);
    return;
  }
  const {members, tin} = await get("/api/alike", {id: last.id, view: last.view, term: last.term});
  const same = (one) => JSON.stringify(one.value) === JSON.stringify(last.value);
  if (!members.length) {
    say(words.read.alike_none);
    return;
  }
  const rows = members.map((one) => {
    const box = h("input", {type: "checkbox", id: `take-${one.id}`, checked: !one.settled && !same(one), disabled: same(one)});
    return {one, box, row: h("tr", {}, h("td", {}, box), h("td", {}, h("img", {src: picture("crop", one.id, 0, 200), alt: ""})),
      h("td", {}, h("label", {for: `take-${one.id}`}, `${words.read.sheet} ${one.sheet || "–"} · ${words.read.position} ${one.position}`), h("br"), said(one.text, {class: "said cut"})),
      h("td", {}, one.shown ? said(one.shown) : words.none, one.settled ? h("span", {class: "small"}, ` ${words.read.settled_before}`) : null), h("td", {}, same(one) ? words.read.equal : said(last.shown)))};
  });
  const yes = await question({title: fill(words.read.alike_title, {term: termName(last.term)}), ok: fill(words.read.spread, {n: ""}).trim(), wide: true}, h("p", {}, fill(words.read.alike_lead, {tin})),
    h("table", {class: "alike"}, h("thead", {}, h("tr", {}, h("td"), h("td"), h("th", {scope: "col"}, words.read.envelope), h("th", {scope: "col"}, words.read.before), h("th", {scope: "col"}, words.read.after))), h("tbody", {}, rows.map((r) => r.row))));
  const taken = yes ? rows.filter((r) => r.box.checked) : [];
  if (!taken.length) return;
  const done = await write("/api/decide", {changes: taken.map(({one}) => ({id: one.id, term: last.term, seen: one.seen, value: last.value})), note: `as ${last.id}`}, last.shown);
  if (done && !done.kept_theirs) {
    remember(termName(last.term), done);
    say(fill(words.read.spread_done, {n: taken.length}));
  }
  await load(envelope.id, side);
}

const editing = (term) => () => edit(term);
export const keys = {
  Enter: confirm, j: () => turn(1), k: () => turn(-1), t: editing("text"), d: editing("date"), p: editing("place"), c: editing("collector"), x: editing("taxon"), s: editing("sex"), y: editing("type_status"), e: editing("elevation"), g: editing("coordinates"), n: editing("number"),
  a: spread, u: back, o: () => otherSide(), v: sheet, "+": () => larger(1.5), "−": () => larger(1 / 1.5), "-": () => larger(1 / 1.5), 0: () => larger(0), m: check, l: () => place.querySelector(".picker").click(),
};

export async function show(where) {
  place = where;
  if (await queued(place, {order: "doubt", progress: "open"}, words.read.queue_doubt)) await load(state.queue[state.at]);
}

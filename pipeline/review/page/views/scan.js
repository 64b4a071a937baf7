// Scan: what a hand scanner types moves the envelope whose code it is; each scan is answered when it is on the disk.
import {fill, guarded, h, record, said, when, words} from "../tools.js";

const asked = {kind: "picked", where: ""};
const done = [];       // of this sitting, the newest first
let parts = {};
let turn = Promise.resolve();   // a scanner does not wait: one scan after the other, in the order they came

// A sentence where it was refused; nothing when the person did not say who she is.
async function told(path, body) {
  try {
    return await record(path, body);
  } catch (error) {
    return {error: error.message};
  }
}

async function take(code) {
  const answer = await told("/api/move", {code, kind: asked.kind, where: asked.where});
  if (!answer) return;
  if (answer.place) {
    asked.where = parts.where.value = answer.place;
    done.unshift({sentence: fill(words.scan.place, {where: answer.place})});
  } else {
    done.unshift(answer.error ? {code, error: answer.error} : answer);
  }
  draw();
}

async function takeBack(one) {
  const answer = await told("/api/take_back", {id: one.id, seen: one.seen});
  if (!answer) return;
  if (!answer.error) one.wrong = true;
  done.unshift(answer.error ? {code: one.number || one.id, error: answer.error} : answer);
  draw();
  parts.code.focus();
}

const moved = (m) => [words.movement[m.kind] ?? m.kind, m.where ? [" · ", said(m.where)] : null, " — ", said(m.who), ", ", when(m.when)].flat();

function row(one) {
  if (one.sentence) return h("li", {class: "toplace"}, said(one.sentence));
  if (one.error) return h("li", {class: "refused"}, h("span", {}, h("strong", {}, said(one.code)), " ", words.scan.refused, " ", said(one.error)));
  const name = one.number || one.id;
  return h("li", {class: one.wrong ? "wrong" : ""}, h("span", {}, h("strong", {}, said(name)), " ", moved(one.movement)), one.wrong ? h("em", {}, ` ${words.scan.taken_back}`) : h("button", {type: "button", "aria-label": fill(words.scan.wrong_one, {name}), onclick: () => guarded(() => takeBack(one))}, words.scan.wrong));
}

function draw() {
  parts.done.replaceChildren(...done.map(row));
}

// Wherever the cursor is, what is typed goes into the field of the codes: no scan is ever taken for a key of the page.
export function takes(event) {
  if (event.key.length !== 1 || event.key === " " || event.ctrlKey || event.metaKey || event.altKey) return false;
  parts.code.focus();
  return true;
}

export async function show(place) {
  const s = words.scan;
  parts = {
    code: h("input", {id: "code", type: "text", autocomplete: "off", spellcheck: "false", maxlength: 400}),
    where: h("input", {id: "where", type: "text", autocomplete: "off", maxlength: 200, value: asked.where, oninput: (event) => { asked.where = event.target.value; }, onkeydown: (event) => { if (event.key === "Enter") { event.preventDefault(); parts.code.focus(); } }}),
    done: h("ol", {class: "scans", "aria-live": "polite", "aria-relevant": "additions"}),
  };
  const kinds = Object.entries(words.movement).filter(([kind]) => kind !== "captured");
  place.replaceChildren(
    h("form", {class: "scanning", onsubmit: (event) => {
      event.preventDefault();
      const code = parts.code.value;
      parts.code.value = "";
      if (code.trim()) turn = turn.then(() => guarded(() => take(code)));
    }},
      h("p", {class: "field"}, h("label", {for: "kind"}, s.kind), h("select", {id: "kind", onchange: (event) => { asked.kind = event.target.value; parts.code.focus(); }}, kinds.map(([kind, name]) => h("option", {value: kind, ...(kind === asked.kind ? {selected: true} : {})}, name)))),
      h("p", {class: "field"}, h("label", {for: "where"}, s.where), parts.where),
      h("p", {class: "field"}, h("label", {for: "code"}, s.code), parts.code),
      h("button", {class: "main"}, s.take)),
    h("p", {class: "small"}, s.lead),
    h("section", {"aria-labelledby": "scans-title"}, h("h3", {id: "scans-title"}, s.done), parts.done));
  draw();
  parts.code.focus();
}

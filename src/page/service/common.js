// What the scripts of the page share. Every text from a file is put in as text, never as markup.

import { carry, opens, saves } from "/carrier.js";

export const $ = (id) => document.getElementById(id);
export const make = (tag, set = {}, ...inside) => {
  const element = Object.assign(document.createElement(tag), set);
  element.append(...inside);
  return element;
};
export const option = (value, text) => make("option", { value, textContent: text });
// What this tab shows: the capture, the engine (none: bank is compared with bank), the session as it was last asked.
export const state = { capture: null, engine: null, session: null, running: null };
// What is to be done when one of them changes: the scripts tell each other by these names.
const hands = {};
export const on = (what, hand) => { (hands[what] = hands[what] || []).push(hand); };
export const tell = async (what, ...more) => { for (const hand of hands[what] || []) await hand(...more); };
// The one way to ask: an address, and what goes with it, as `carry` takes it. Gives the answer, or throws its message.
export async function ask(address, options = {}) {
  const { done, value } = await carry({ address, ...options });
  if (!done) throw Object.assign(new Error(value.error || "The page gave no answer. Reload it."), { fields: value.fields || [] });
  return value;
}
export const send = (address, value) => ask(address, { method: "POST", body: JSON.stringify(value) });
export const remove = (address) => ask(address, { method: "DELETE" });
// Puts a message where it belongs; nothing takes it away.
export const complain = (id, error) => { $(id).textContent = error ? error.message : ""; };
// Does something and puts what goes wrong beside it.
export async function doing(id, work) {
  complain(id);
  try { return await work(); } catch (error) { complain(id, error); return undefined; }
}
// A number as it is typed, with a point or a comma; NaN where there is none.
export const number = (text) => parseFloat(text.replace(",", "."));
export const clock = () => new Date().toTimeString().slice(0, 8);
export const named = (one) => (one.more ? one.name + ", " + one.more : one.name);
// Buttons that save what an address answers, or open it.
export const saveButton = (text, address, name) => {
  const link = make("a", { className: "button", textContent: text });
  saves(link, address, name);
  return link;
};
export const openButton = (text, address) => {
  const link = make("a", { className: "button", textContent: text });
  opens(link, address);
  return link;
};
// A button that saves a text of this page.
export const textButton = (text, content, name, type = "text/plain") => {
  const link = make("a", { className: "button", textContent: text, download: name });
  link.href = URL.createObjectURL(new Blob([content], { type }));
  return link;
};
// A cell that says itself under which heading it stands: on a narrow screen each stands on a line of its own.
export function underHead(table, at, cell) {
  const head = table.querySelectorAll("thead th")[at];
  cell.dataset.head = head.querySelector(".unseen") ? "" : head.textContent;
  return cell;
}
// A drawing of outlines, each 260 wide and 100 tall, one over the other.
export function drawing(traces, words) {
  const make = (tag, set) => {
    const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(set)) element.setAttribute(name, value);
    return element;
  };
  const svg = make("svg", { viewBox: "-1 -6 262 " + (112 * traces.length), preserveAspectRatio: "none", role: "img", "aria-label": words });
  traces.forEach((points, row) => svg.append(make("polygon", { points, transform: "translate(0 " + 112 * row + ")" })));
  return svg;
}

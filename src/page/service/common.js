// What both scripts of the page use. Every text from a file is put in as text, never as markup.

import { carry, opens, saves } from "/carrier.js";

export const $ = (id) => document.getElementById(id);
export const make = (tag, set = {}, ...inside) => {
  const element = Object.assign(document.createElement(tag), set);
  element.append(...inside);
  return element;
};
export const option = (value, text) => make("option", { value, textContent: text });
// The one way to ask: an address, and what goes with it, as `carry` takes it. Gives the answer, or throws its message.
export async function ask(address, options = {}) {
  const { done, value } = await carry({ address, ...options });
  if (!done) throw Object.assign(new Error(value.error || "The page gave no answer. Reload it."), { fields: value.fields || [] });
  return value;
}
export const send = (address, value) => ask(address, { method: "POST", body: JSON.stringify(value) });
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

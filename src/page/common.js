// What both scripts of the page use. Every text from a file is put in as text, never as markup.

export const $ = (id) => document.getElementById(id);
const HEADERS = { "x-camwitness": "1" };
export const make = (tag, set = {}, ...inside) => {
  const element = Object.assign(document.createElement(tag), set);
  element.append(...inside);
  return element;
};
export const option = (value, text) => make("option", { value, textContent: text });
export async function ask(address, options = {}) {
  let answer;
  try {
    answer = await fetch(address, { ...options, headers: { ...HEADERS, ...(options.headers || {}) } });
  } catch {
    throw new Error("The page does not answer any more. Start “camwitness page” again; results of the old session are gone.");
  }
  const body = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Error(body.error || "The page answered with status " + answer.status + ".");
  return body;
}
export const send = (address, value) => ask(address, { method: "POST", body: JSON.stringify(value), headers: { "content-type": "application/json" } });

// How requests of the page reach the service: over HTTP. A page that carries its service within itself has another file in
// this one's place, with the same functions.

const HEADERS = { "x-camwitness": "1" };
const BROKEN = "The page does not answer any more, or the file changed while it was read. Drop it again.";
const GONE = "The page does not answer any more. Start “camwitness page” again; results of the old session are gone.";

// One request: { method, address, body, sent, signal }. `sent` is told which share of the body is on its way; `signal` stops it.
// Gives { done, value }: whether it was done, and the answer or { error }.
export function carry({ method = "GET", address, body = null, sent = null, signal = null }) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open(method, address);
    for (const [name, value] of Object.entries(HEADERS)) request.setRequestHeader(name, value);
    if (sent) request.upload.onprogress = (event) => { if (event.lengthComputable) sent(event.loaded / event.total); };
    if (sent) request.upload.onload = () => sent(1);
    request.onerror = () => reject(new Error(body instanceof Blob ? BROKEN : GONE));
    request.onabort = () => reject(new DOMException("stopped", "AbortError"));
    request.onload = () => {
      let value = {};
      try { value = JSON.parse(request.responseText); } catch { /* an answer without words */ }
      resolve({ done: request.status === 200, value: value || {} });
    };
    if (signal) signal.addEventListener("abort", () => request.abort());
    request.send(body);
  });
}

// What an address answers, as a link that saves it under a name, or opens it in a window of its own.
export function saves(link, address, name) {
  link.href = address;
  link.download = name;
}
export function opens(link, address) {
  link.href = address;
  link.target = "_blank";
  link.rel = "noopener";
}
// A report in a frame, where its scripts reach nothing.
export function shows(frame, address) {
  frame.src = address;
}

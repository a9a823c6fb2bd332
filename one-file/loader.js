// Unpacks the program and puts the page together. Written for browsers too old for the rest, which are told so.
(function () {
  var begun = performance.now();
  function tell(words) {
    document.getElementById("starting").textContent = words;
    document.getElementById("starting").className = "error";
  }
  var needed = [["Worker", "workers"], ["WebAssembly", "WebAssembly"], ["DecompressionStream", "unpacking of gzip"], ["DOMParser", "reading of HTML"], ["Promise", "promises"]];
  var missing = needed.filter(function (one) { return typeof window[one[0]] === "undefined"; }).map(function (one) { return one[1]; });
  if (missing.length) {
    tell("This browser is too old for this file: it has no " + missing.join(", no ") + ". Open it in a browser from the middle of 2023 or later.");
    return;
  }
  var taken = function (id) { return document.getElementById(id).textContent; };
  window.camwitness = { modules: {}, worker: taken("worker") };

  // A module of the page as a function: what it takes of others, and what it gives.
  function module(name, code) {
    var given = [];
    code = code
      .replace(/^import \{([^}]*)\} from "([^"]+)";$/gm, function (all, names, from) { return "const {" + names.replace(/ as /g, ": ") + '} = camwitness.modules["' + from + '"];'; })
      .replace(/^export ((?:async )?function|const) ([\w$]+)/gm, function (all, kind, what) { given.push(what); return kind + " " + what; });
    var script = document.createElement("script");
    script.textContent = 'camwitness.modules["' + name + '"] = (() => { "use strict";\n' + code + "\nreturn { " + given.join(", ") + " };\n})();";
    document.head.append(script);
  }

  var scripts = [];
  // Seven bits a character; four values that HTML would not bring share a character with the next seven bits (assemble.py).
  var packed = taken("program"), rare = [0, 10, 13, 60];
  var room = new Uint8Array(Math.ceil(packed.length * 7 / 4));
  var at = 0, held = 0, bits = 0;
  function put(value) {
    held = (held << 7 | value) & 32767;
    bits += 7;
    if (bits >= 8) { bits -= 8; room[at++] = held >> bits; }
  }
  for (var i = 0; i < packed.length; i++) {
    var letter = packed.charCodeAt(i), pair = letter - 192;
    if (letter < 128) put(letter);
    else if (pair >= 512) put(rare[pair - 512]);
    else { put(rare[pair >> 7]); put(pair & 127); }
  }
  var bytes = room.subarray(0, at);
  new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).arrayBuffer()
    .then(function (code) { return WebAssembly.compile(code); })
    .then(function (compiled) {
      window.camwitness.module = compiled;
      module("/carrier.js", taken("carrier"));
      var reads = window.camwitness.modules["/carrier.js"].reads;
      return reads("/scripts").then(function (names) {
        scripts = JSON.parse(names);
        return Promise.all(["/", "/page.css"].concat(scripts.map(function (name) { return "/" + name; })).map(reads));
      });
    })
    .then(function (parts) {
      var page = new DOMParser().parseFromString(parts[0], "text/html");
      page.querySelectorAll("noscript").forEach(function (one) { one.remove(); });
      var style = document.createElement("style");
      style.textContent = parts[1];
      document.head.append(style);
      document.body.replaceChildren.apply(document.body, Array.prototype.slice.call(page.body.childNodes));
      scripts.forEach(function (name, at) { module("/" + name, parts[2 + at]); });
      document.documentElement.dataset.ready = Math.round(performance.now() - begun);
    })
    .catch(function (error) {
      tell("This browser cannot run this file (" + error + "). Open it in a browser from the middle of 2023 or later.");
    });
})();

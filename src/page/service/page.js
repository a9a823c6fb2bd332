// The page begins: each of its scripts takes up its part.
import { tell } from "/common.js";
import { begin as beginCapture } from "/capture.js";
import { begin as beginMeasure } from "/measure.js";
import { begin as beginSession } from "/session.js";
import { begin as beginTools } from "/tools.js";

(async () => {
  beginCapture();
  beginMeasure();
  await beginSession();
  await beginTools();
  await tell("ready");
  document.documentElement.dataset.begun = "yes";
})();

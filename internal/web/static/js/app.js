// The one script a page loads. Every page works without it; each module adds one comfort and knows nothing of the others.
import * as numpad from "./numpad.js";
import * as countdown from "./countdown.js";
import * as form from "./form.js";
import * as filter from "./filter.js";
import * as print from "./print.js";
import * as frame from "./frame.js";
import * as live from "./live.js";
import * as again from "./again.js";

const parts = [numpad, countdown, form, filter, print, frame];

function start(root) {
  for (const part of parts) part.start(root);
}

document.documentElement.classList.add("js");
start(document);
live.start(document, start);
again.start(document, start);

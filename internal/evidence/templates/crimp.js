// Leads from crimp to crimp as they were listed, and back to the list as it was filtered: both stand behind the hash. Shows
// the middle of drawings that are wider than the window.
"use strict";
(function () {
  for (const drawing of document.querySelectorAll(".drawing")) {
    const middle = () => { drawing.scrollLeft = (drawing.scrollWidth - drawing.clientWidth) / 2; };
    middle();
    drawing.querySelector("img").addEventListener("load", middle);
  }
  const own = document.body.dataset.n;
  const chosen = new URLSearchParams(location.hash.slice(1));
  const listed = (chosen.get("in") ?? "").split(".").filter((n) => /^[1-9][0-9]*$/.test(n));
  chosen.delete("at");
  const at = listed.indexOf(own);
  if (at >= 0) {
    for (const [id, n] of [["previous", listed[at - 1]], ["next", listed[at + 1]]]) {
      const step = document.getElementById(id);
      const link = document.createElement(n ? "a" : "span");
      link.id = id;
      link.textContent = n ? id + " of these" : step.dataset.end;
      link.dataset.end = step.dataset.end;
      if (n) link.href = n.padStart(4, "0") + ".html#" + chosen;
      step.replaceWith(link);
    }
  } else if (location.hash.includes("=")) {
    for (const link of document.querySelectorAll("a.step")) link.hash = chosen.toString();
  }
  if (location.hash.includes("=")) {
    const back = new URLSearchParams(chosen);
    back.delete("in");
    back.set("at", own);
    document.getElementById("back").hash = back.toString();
  }
})();

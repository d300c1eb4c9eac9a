// Carries what was chosen in the list along to the next crimp and back to the list.
"use strict";
(function () {
  const chosen = location.hash;
  if (!chosen.includes("=")) return;
  const back = document.getElementById("back");
  back.href += chosen;
  back.textContent = "back to the chosen crimps";
  for (const link of document.querySelectorAll("a.step")) link.href += chosen;
})();
